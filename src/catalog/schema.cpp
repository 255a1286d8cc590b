#include "schema.h"

#include <algorithm>
#include <array>
#include <chrono>
#include <cstring>
#include <random>
#include <thread>

#include "burstsieve/base/file_system.h"

namespace burstsieve::catalog {

namespace {

constexpr std::int64_t kApplicationId = 0x42725376;  // "BrSv"
constexpr std::int64_t kSchema = 5;

// record columns: see codec.h. A frame belongs to one burst; its verdict is the last run's.
constexpr const char* kTables = R"(
CREATE TABLE captures(
  path BLOB PRIMARY KEY, size INTEGER NOT NULL, mtime_ns INTEGER NOT NULL, fingerprint INTEGER NOT NULL,
  engine INTEGER NOT NULL, record BLOB NOT NULL) WITHOUT ROWID;
CREATE TABLE bursts(key TEXT PRIMARY KEY, engine INTEGER NOT NULL, frames INTEGER NOT NULL) WITHOUT ROWID;
CREATE TABLE frames(
  burst TEXT NOT NULL, position INTEGER NOT NULL, path BLOB NOT NULL, record BLOB NOT NULL,
  thumbnail BLOB NOT NULL, PRIMARY KEY(burst, position));
CREATE INDEX frames_by_path ON frames(path);
CREATE TABLE runs(
  id INTEGER PRIMARY KEY AUTOINCREMENT, started_ms INTEGER NOT NULL, ended_ms INTEGER NOT NULL,
  folder BLOB NOT NULL, options TEXT NOT NULL, version TEXT NOT NULL, frames INTEGER NOT NULL,
  bursts INTEGER NOT NULL, keeps INTEGER NOT NULL, undecided INTEGER NOT NULL, rejects INTEGER NOT NULL,
  damaged INTEGER NOT NULL);
CREATE TABLE verdicts(path BLOB PRIMARY KEY, run INTEGER NOT NULL, record BLOB NOT NULL) WITHOUT ROWID;
CREATE TABLE overrides(
  id INTEGER PRIMARY KEY AUTOINCREMENT, path BLOB NOT NULL, ours INTEGER, human REAL,
  human_text TEXT NOT NULL, at_ms INTEGER NOT NULL);
CREATE INDEX overrides_by_path ON overrides(path, id);
)";

// Schema 2. before: the sidecar's bytes before our change, NULL when there was no file; before_sum guards
// them. wrote: checksum of the bytes we put there. done: 0 until the sidecar has been replaced.
constexpr const char* kJournal = R"(
CREATE TABLE journal(
  run INTEGER NOT NULL, sequence INTEGER NOT NULL, path BLOB NOT NULL, before BLOB,
  before_sum INTEGER NOT NULL, wrote INTEGER NOT NULL, at_ms INTEGER NOT NULL,
  done INTEGER NOT NULL, undone INTEGER NOT NULL, PRIMARY KEY(run, sequence));
CREATE INDEX journal_by_path ON journal(path, run, sequence);
)";

// Schema 3, one row for each run that has, or had, a journal. bytes: of its old sidecars. at_ms: of its last
// change. forgotten: 1 when its journal is gone; the numbers are then what it said (RunHistory).
constexpr const char* kJournalled = R"(
CREATE TABLE journalled(
  run INTEGER PRIMARY KEY, bytes INTEGER NOT NULL, at_ms INTEGER NOT NULL, forgotten INTEGER NOT NULL,
  changed INTEGER NOT NULL, undone INTEGER NOT NULL, planned INTEGER NOT NULL);
INSERT INTO journalled SELECT run, total(length(before)), max(at_ms), 0, 0, 0, 0 FROM journal GROUP BY run;
)";

// Schema 4. Of each profile the numbers of rank::Learnt; last_override: the last that was looked at;
// forgotten_to: overrides up to this one are no longer learnt from. judged: we had given the frame a verdict
// when the override was seen. An override of schema 3 has no line in override_profiles: it is the default
// profile's.
constexpr const char* kPreferences = R"(
CREATE TABLE IF NOT EXISTS preferences(
  profile TEXT PRIMARY KEY, learnt_ms INTEGER NOT NULL, last_override INTEGER NOT NULL,
  forgotten_to INTEGER NOT NULL, imported INTEGER NOT NULL, in_use INTEGER NOT NULL, scale REAL NOT NULL,
  overrides INTEGER NOT NULL, agreements INTEGER NOT NULL, choices INTEGER NOT NULL, gain REAL NOT NULL,
  gain_sure REAL NOT NULL, agreed_base REAL NOT NULL, agreed_learnt REAL NOT NULL) WITHOUT ROWID;
CREATE TABLE IF NOT EXISTS preference_weights(
  profile TEXT NOT NULL, feature TEXT NOT NULL, weight REAL NOT NULL, uncertainty REAL NOT NULL,
  base REAL NOT NULL, informed INTEGER NOT NULL, PRIMARY KEY(profile, feature)) WITHOUT ROWID;
CREATE TABLE IF NOT EXISTS override_profiles(
  override INTEGER PRIMARY KEY, profile TEXT NOT NULL, judged INTEGER NOT NULL);
)";

// Schema 5: what the photographer says on the review page. kind: 0 decide, 1 undo, 2 redo; nothing is ever
// changed or taken out. seen, said: see ReviewChoice and WrittenWord.
constexpr const char* kReview = R"(
CREATE TABLE IF NOT EXISTS review_steps(
  id INTEGER PRIMARY KEY AUTOINCREMENT, folder BLOB NOT NULL, kind INTEGER NOT NULL, at_ms INTEGER NOT NULL);
CREATE INDEX IF NOT EXISTS review_steps_by_folder ON review_steps(folder, id);
CREATE TABLE IF NOT EXISTS review_choices(
  step INTEGER NOT NULL, path BLOB NOT NULL, fingerprint INTEGER NOT NULL, verdict INTEGER, rating INTEGER,
  seen TEXT NOT NULL, PRIMARY KEY(step, path)) WITHOUT ROWID;
CREATE TABLE IF NOT EXISTS review_written(
  path BLOB PRIMARY KEY, fingerprint INTEGER NOT NULL, said TEXT NOT NULL) WITHOUT ROWID;
)";

// What each schema added: kAdded[0] to schema 1.
constexpr std::array kAdded{kJournal, kJournalled, kPreferences, kReview};
static_assert(kAdded.size() + 1 == kSchema);

Error not_ours(const std::string& path) {
  return Error{Cause::corrupt, path, "is not a catalogue of burstsieve, left alone"};
}

std::uint32_t big_endian(Bytes b) {
  return std::uint32_t{b[0]} << 24 | std::uint32_t{b[1]} << 16 | std::uint32_t{b[2]} << 8 | b[3];
}

Error newer(const std::string& path) {
  return Error{Cause::unsupported, path, "was written by a newer release of burstsieve"};
}

Status check_type(FileSystem& fs, const std::string& path) {
  const auto found = fs.stat(path);
  if (!found) return found.error();
  // SQLite follows a link, as the user arranged.
  const bool fits = !*found || (*found)->type == FileType::symlink || (*found)->type == FileType::regular;
  return fits ? Status(Done{}) : Status(not_ours(path));
}

// Before SQLite does anything with the file. Offsets: SQLite file format, "The Database Header": user version
// 60, application id 68, both big-endian.
Status check_header(Database& db, const std::string& path) {
  const auto header = db.header();
  if (!header) return header.error();
  // Empty; or the power went while the first tables were made, and SQLite's journal puts that right.
  if (std::all_of(header->begin(), header->end(), [](std::uint8_t b) { return b == 0; })) return Done{};
  if (std::memcmp(header->data(), "SQLite format 3", 16) != 0) return not_ours(path);
  if (big_endian(Bytes(*header).subspan(68, 4)) != kApplicationId) return not_ours(path);
  if (big_endian(Bytes(*header).subspan(60, 4)) > kSchema) return newer(path);
  return Done{};
}

// Only we may read what is in it: file names and places tell where someone goes.
Status make_empty(FileSystem& fs, const std::string& path) {
  const auto found = fs.stat(path);
  if (!found) return found.error();
  if (*found) return Done{};
  if (auto s = make_folders(fs, folder_of(path), 0700); !s) return s.error();
  auto file = fs.create(path, 0600);
  if (!file) {
    // Two first runs at once: the other was faster, and its file serves both.
    if (const auto now = fs.stat(path); now && *now) return Done{};
    return file.error();
  }
  return (*file)->close();
}

// In the rollback-journal mode of a new file, so that the header in the file itself says whose it is.
Status create_tables(Database& db) {
  Transaction t(db);
  if (auto s = t.begin(); !s) return s.error();
  const auto tables = db.number("SELECT count(*) FROM sqlite_master");
  if (!tables) return tables.error();
  if (*tables > 0) return Done{};  // another process was faster
  const std::string ids = "PRAGMA application_id=" + std::to_string(kApplicationId) +
                          "; PRAGMA user_version=" + std::to_string(kSchema);
  if (auto s = db.execute(ids.c_str()); !s) return s.error();
  if (auto s = db.execute(kTables); !s) return s.error();
  for (const char* added : kAdded)
    if (auto s = db.execute(added); !s) return s.error();
  return t.commit();
}

// An older catalogue gains what later schemas added; nothing that is in it changes.
Status upgrade(Database& db) {
  Transaction t(db);
  if (auto s = t.begin(); !s) return s.error();
  const auto version = db.number("PRAGMA user_version");
  if (!version) return version.error();
  if (*version >= kSchema) return Done{};  // another process was faster
  for (std::int64_t from = *version; from < kSchema; ++from)
    if (auto s = db.execute(kAdded[static_cast<std::size_t>(from - 1)]); !s) return s.error();
  const std::string now = "PRAGMA user_version=" + std::to_string(kSchema);
  if (auto s = db.execute(now.c_str()); !s) return s.error();
  return t.commit();
}

// SQLite has read the header when it goes for the write lock that the switch needs; to upgrade a lock it does
// not wait, for fear of a deadlock, but says at once that the file is locked. So two first runs on one
// catalogue would stop each other. Between tries this connection holds nothing.
// Where there can be no write-ahead log the rollback journal stays: slower, as safe.
Status use_write_ahead_log(Database& db) {
  std::minstd_rand jitter(std::random_device{}());
  std::uniform_int_distribution<int> pause_ms(1, 20);
  const auto give_up = std::chrono::steady_clock::now() + std::chrono::seconds(10);
  for (;;) {
    const auto s = db.execute("PRAGMA journal_mode=WAL");
    if (s || !db.was_busy() || std::chrono::steady_clock::now() > give_up) return s;
    std::this_thread::sleep_for(std::chrono::milliseconds(pause_ms(jitter)));
  }
}

}  // namespace

Result<std::unique_ptr<Database>> open_catalog(const std::string& path) {
  RealFileSystem fs;
  if (auto s = check_type(fs, path); !s) return s.error();
  if (auto s = make_empty(fs, path); !s) return s.error();
  auto db = Database::open(path);
  if (!db) return db.error();
  if (auto s = check_header(**db, path); !s) return s.error();
  const auto tables = (*db)->number("SELECT count(*) FROM sqlite_master");
  if (!tables) return tables.error();
  if (*tables == 0)
    if (auto s = create_tables(**db); !s) return s.error();
  // As SQLite sees it now, behind links and journals.
  const auto id = (*db)->number("PRAGMA application_id");
  if (!id) return id.error();
  if (*id != kApplicationId) return not_ours(path);
  const auto version = (*db)->number("PRAGMA user_version");
  if (!version) return version.error();
  if (*version > kSchema) return newer(path);
  if (*version < 1) return not_ours(path);
  if (auto s = (*db)->execute("PRAGMA synchronous=FULL"); !s) return s.error();
  if (auto s = use_write_ahead_log(**db); !s) return s.error();
  if (*version < kSchema)
    if (auto s = upgrade(**db); !s) return s.error();
  return db;
}

}  // namespace burstsieve::catalog
