// SQLite behind Result: one connection, statements that clean up after themselves.
#pragma once
#include <sqlite3.h>

#include <array>
#include <cstdint>
#include <memory>
#include <optional>
#include <string>
#include <string_view>

#include "burstsieve/base/bytes.h"
#include "burstsieve/base/result.h"

namespace burstsieve::catalog {

class Database;

// SQLite stores signed integers only; the bits are kept.
constexpr std::int64_t as_signed(std::uint64_t v) {
  return static_cast<std::int64_t>(v);
}

// A prepared statement. Errors are kept until step(): binding is not checked call by call.
class Statement {
 public:
  Statement(Database& db, const char* sql);
  Statement(const Statement&) = delete;
  Statement& operator=(const Statement&) = delete;
  ~Statement();

  Statement& bind(std::int64_t value);
  Statement& bind(double value);
  Statement& bind_text(std::string_view value);
  Statement& bind_bytes(Bytes value);  // bound bytes must live until step()
  Statement& bind_path(const std::string& path);
  template <class T>
  Statement& bind_optional(const std::optional<T>& value) {
    if (value) return bind(*value);
    ++next_;  // unbound is NULL
    return *this;
  }
  Statement& bind(int value) { return bind(std::int64_t{value}); }

  // True: a row is there. False: done.
  Result<bool> step();
  // For statements without rows; leaves the statement ready for new values.
  Status run();

  bool is_null(int column) const;
  std::int64_t integer(int column) const;
  double real(int column) const;
  std::string text(int column) const;
  Bytes bytes(int column) const;  // until the next step()

 private:
  void note(int code);
  Database& db_;
  sqlite3_stmt* handle_ = nullptr;
  int next_ = 1;
  int failed_ = SQLITE_OK;
};

class Database {
 public:
  static Result<std::unique_ptr<Database>> open(const std::string& path);
  Database(const Database&) = delete;
  Database& operator=(const Database&) = delete;
  ~Database();

  // The first bytes of the file, zero beyond its end, before SQLite has looked at any. By SQLite's own
  // descriptor: closing another one of the same file would drop the locks of every connection of this
  // process (POSIX, fcntl()).
  using Header = std::array<std::uint8_t, 100>;
  Result<Header> header();

  Status execute(const char* sql);
  // The last call failed since another connection was in the way.
  bool was_busy() const { return (sqlite3_errcode(handle_) & 0xff) == SQLITE_BUSY; }
  Result<std::int64_t> number(const char* sql);
  std::int64_t last_id() const { return sqlite3_last_insert_rowid(handle_); }
  Error error(int code) const;
  sqlite3* handle() const { return handle_; }

 private:
  Database(sqlite3* handle, std::string path) : handle_(handle), path_(std::move(path)) {}
  sqlite3* handle_;
  std::string path_;
};

// Rolled back when it goes without commit().
class Transaction {
 public:
  explicit Transaction(Database& db) : db_(db) {}
  Transaction(const Transaction&) = delete;
  Transaction& operator=(const Transaction&) = delete;
  ~Transaction();
  Status begin();
  Status commit();

 private:
  Database& db_;
  bool open_ = false;
};

}  // namespace burstsieve::catalog
