// What a Catalog holds.
#pragma once
#include <fmt/format.h>

#include <filesystem>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "burstsieve/base/text.h"
#include "burstsieve/catalog/catalog.h"
#include "codec.h"
#include "database.h"

namespace burstsieve {

namespace catalog {
// Absolute and normalised.
std::string stored_path(const std::string& path);
}  // namespace catalog

struct Catalog::Impl {
  std::unique_ptr<catalog::Database> db;
  int engine_version = 0;
  std::string path;
  std::vector<std::string> notes;

  void note(const std::string& about, const Error& e) {
    constexpr std::size_t kMaxNotes = 100;
    if (notes.size() < kMaxNotes) notes.push_back(one_line(fmt::format("{}: {}", about, e.text)));
  }
  // One row, or nothing; an error is a note.
  bool row(catalog::Statement& s, const std::string& about) {
    const auto there = s.step();
    if (!there) note(about, there.error());
    return there && *there;
  }
  std::optional<FrameFacts> facts(const catalog::Statement& s, int record, const std::string& about) {
    auto out = catalog::decode_facts(s.bytes(record), s.bytes(record + 1));
    if (out) return std::move(*out);
    note(about, out.error());
    return std::nullopt;
  }
};

}  // namespace burstsieve
