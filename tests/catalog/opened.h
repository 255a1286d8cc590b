// A catalogue that must open, and a way to meddle with its file behind its back.
#pragma once
#include <doctest/doctest.h>
#include <sqlite3.h>

#include <string>
#include <utility>

#include "burstsieve/catalog/catalog.h"

namespace burstsieve::test {

inline Catalog opened(const std::string& path, int engine = 1) {
  auto c = Catalog::open(path, engine);
  REQUIRE_MESSAGE(c, c.error().line());
  return std::move(*c);
}

inline void sql(const std::string& path, const char* text) {
  sqlite3* db = nullptr;
  REQUIRE(sqlite3_open(path.c_str(), &db) == SQLITE_OK);
  CHECK(sqlite3_exec(db, text, nullptr, nullptr, nullptr) == SQLITE_OK);
  sqlite3_close(db);
}

}  // namespace burstsieve::test
