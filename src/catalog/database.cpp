#include "database.h"

namespace burstsieve::catalog {

Statement::Statement(Database& db, const char* sql) : db_(db) {
  note(sqlite3_prepare_v2(db.handle(), sql, -1, &handle_, nullptr));
}
Statement::~Statement() {
  sqlite3_finalize(handle_);
}

void Statement::note(int code) {
  if (failed_ == SQLITE_OK) failed_ = code;
}

Statement& Statement::bind(std::int64_t value) {
  note(sqlite3_bind_int64(handle_, next_++, value));
  return *this;
}
Statement& Statement::bind(double value) {
  note(sqlite3_bind_double(handle_, next_++, value));
  return *this;
}
Statement& Statement::bind_text(std::string_view value) {
  note(sqlite3_bind_text64(handle_, next_++, value.data() != nullptr ? value.data() : "", value.size(),
                           SQLITE_TRANSIENT, SQLITE_UTF8));
  return *this;
}
Statement& Statement::bind_bytes(Bytes value) {
  // A null pointer would bind NULL.
  static const std::uint8_t nothing = 0;
  note(sqlite3_bind_blob64(handle_, next_++, value.empty() ? &nothing : value.data(), value.size(),
                           SQLITE_STATIC));
  return *this;
}
Statement& Statement::bind_path(const std::string& path) {
  // Paths are bytes, not necessarily text.
  note(sqlite3_bind_blob64(handle_, next_++, path.data(), path.size(), SQLITE_TRANSIENT));
  return *this;
}

Result<bool> Statement::step() {
  if (failed_ != SQLITE_OK) return db_.error(failed_);
  const int code = sqlite3_step(handle_);
  if (code == SQLITE_ROW) return true;
  if (code == SQLITE_DONE) return false;
  return db_.error(code);
}

Status Statement::run() {
  const auto row = step();
  sqlite3_reset(handle_);
  sqlite3_clear_bindings(handle_);
  next_ = 1;
  if (!row) return row.error();
  return Done{};
}

bool Statement::is_null(int column) const {
  return sqlite3_column_type(handle_, column) == SQLITE_NULL;
}
std::int64_t Statement::integer(int column) const {
  return sqlite3_column_int64(handle_, column);
}
double Statement::real(int column) const {
  return sqlite3_column_double(handle_, column);
}
Bytes Statement::bytes(int column) const {
  const auto* data = static_cast<const std::uint8_t*>(sqlite3_column_blob(handle_, column));
  return {data, data != nullptr ? static_cast<std::size_t>(sqlite3_column_bytes(handle_, column)) : 0};
}
std::string Statement::text(int column) const {
  const Bytes b = bytes(column);
  return {b.begin(), b.end()};
}

Result<std::unique_ptr<Database>> Database::open(const std::string& path) {
  sqlite3* handle = nullptr;
  // Not a URI: a path with '?' in it is a path. One thread uses it.
  const int code =
      sqlite3_open_v2(path.c_str(), &handle, SQLITE_OPEN_READWRITE | SQLITE_OPEN_NOMUTEX, nullptr);
  std::unique_ptr<Database> db(new Database(handle, path));
  if (code != SQLITE_OK) return db->error(code);
  sqlite3_extended_result_codes(handle, 1);
  sqlite3_busy_timeout(handle, 10'000);
  // The file may come from elsewhere: no schema tricks (SQLite, "Defense Against The Dark Arts").
  sqlite3_db_config(handle, SQLITE_DBCONFIG_DEFENSIVE, 1, nullptr);
  sqlite3_db_config(handle, SQLITE_DBCONFIG_TRUSTED_SCHEMA, 0, nullptr);
  return db;
}

Database::~Database() {
  sqlite3_close(handle_);
}

Result<Database::Header> Database::header() {
  sqlite3_file* file = nullptr;
  const int found = sqlite3_file_control(handle_, "main", SQLITE_FCNTL_FILE_POINTER, &file);
  if (found != SQLITE_OK || file == nullptr || file->pMethods == nullptr) return error(SQLITE_CANTOPEN);
  Header out{};
  const int code = file->pMethods->xRead(file, out.data(), static_cast<int>(out.size()), 0);
  // A short read fills up with zeros.
  if (code != SQLITE_OK && code != SQLITE_IOERR_SHORT_READ) return error(code);
  return out;
}

Status Database::execute(const char* sql) {
  const int code = sqlite3_exec(handle_, sql, nullptr, nullptr, nullptr);
  if (code != SQLITE_OK) return error(code);
  return Done{};
}

Result<std::int64_t> Database::number(const char* sql) {
  Statement s(*this, sql);
  const auto row = s.step();
  if (!row) return row.error();
  return *row ? s.integer(0) : 0;
}

Error Database::error(int code) const {
  const int primary = code & 0xff;
  const char* said = handle_ != nullptr ? sqlite3_errmsg(handle_) : sqlite3_errstr(code);
  if (primary == SQLITE_CORRUPT || primary == SQLITE_NOTADB)
    return Error{Cause::corrupt, path_,
                 std::string("the catalogue is damaged: ") + said +
                     "; move it away and the next run starts a new one"};
  return Error{Cause::io, path_, std::string("the catalogue can't be used: ") + said};
}

Transaction::~Transaction() {
  if (open_) static_cast<void>(db_.execute("ROLLBACK"));
}

Status Transaction::begin() {
  auto s = db_.execute("BEGIN IMMEDIATE");
  open_ = static_cast<bool>(s);
  return s;
}

Status Transaction::commit() {
  auto s = db_.execute("COMMIT");
  if (s) open_ = false;
  return s;
}

}  // namespace burstsieve::catalog
