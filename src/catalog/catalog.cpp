#include "burstsieve/catalog/catalog.h"

#include <fmt/format.h>
#include <xxhash.h>

#include <utility>

#include "codec.h"
#include "impl.h"
#include "schema.h"

namespace burstsieve {

using namespace catalog;

std::string catalog::stored_path(const std::string& path) {
  std::error_code failed;
  const auto absolute = std::filesystem::absolute(path, failed);
  return (failed ? std::filesystem::path(path) : absolute).lexically_normal().string();
}

namespace {

std::string file_key(const std::optional<FileRef>& file) {
  if (!file) return "-\n";
  const std::string path = stored_path(file->path);
  // The length in front keeps a path with digits and spaces in it from looking like the next field.
  return fmt::format("{} {} {} {} {}\n", path.size(), path, file->size, file->mtime_ns, file->fingerprint);
}

Run read_run(const Statement& s, int first) {
  Run run;
  run.id = s.integer(first);
  run.started_ms = s.integer(first + 1);
  run.ended_ms = s.integer(first + 2);
  run.folder = s.text(first + 3);
  run.options = s.text(first + 4);
  run.version = s.text(first + 5);
  run.counts = {s.integer(first + 6), s.integer(first + 7),  s.integer(first + 8),
                s.integer(first + 9), s.integer(first + 10), s.integer(first + 11)};
  return run;
}

// What read_run() reads.
const std::string kRunColumns =
    "r.id, r.started_ms, r.ended_ms, r.folder, r.options, r.version, r.frames, r.bursts, r.keeps, "
    "r.undecided, "
    "r.rejects, r.damaged";

}  // namespace

std::string burst_key(std::span<const Frame> frames, int engine_version, const std::string& detector) {
  std::string text = fmt::format("engine {}\n", engine_version);
  if (!detector.empty()) text += fmt::format("detector {}\n", detector);
  for (const Frame& f : frames) text += file_key(f.raw) + file_key(f.jpeg);
  const XXH128_hash_t hash = XXH3_128bits(text.data(), text.size());
  return fmt::format("{:016x}{:016x}", hash.high64, hash.low64);
}

Catalog::Catalog(std::unique_ptr<Impl> impl) : impl_(std::move(impl)) {}
Catalog::Catalog(Catalog&&) noexcept = default;
Catalog& Catalog::operator=(Catalog&&) noexcept = default;
Catalog::~Catalog() = default;

Result<Catalog> Catalog::open(const std::string& path, int engine_version) {
  auto db = open_catalog(path);
  if (!db) return db.error();
  auto impl = std::make_unique<Impl>();
  impl->db = std::move(*db);
  impl->engine_version = engine_version;
  impl->path = path;
  return Catalog(std::move(impl));
}

std::optional<Capture> Catalog::capture_of(const FileRef& file) {
  Statement s(
      *impl_->db,
      "SELECT record FROM captures WHERE path=? AND size=? AND mtime_ns=? AND fingerprint=? AND engine=?");
  s.bind_path(stored_path(file.path)).bind(as_signed(file.size)).bind(file.mtime_ns);
  s.bind(as_signed(file.fingerprint)).bind(impl_->engine_version);
  if (!impl_->row(s, file.path)) return std::nullopt;
  auto capture = decode_capture(s.bytes(0));
  if (capture) return std::move(*capture);
  impl_->note(file.path, capture.error());
  return std::nullopt;
}

Status Catalog::store_captures(std::span<const FileCapture> captures) {
  Transaction t(*impl_->db);
  if (auto s = t.begin(); !s) return s.error();
  Statement insert(*impl_->db, "INSERT OR REPLACE INTO captures VALUES(?,?,?,?,?,?)");
  for (const FileCapture& c : captures) {
    const ByteBuffer record = encode(c.capture);
    insert.bind_path(stored_path(c.file.path)).bind(as_signed(c.file.size)).bind(c.file.mtime_ns);
    insert.bind(as_signed(c.file.fingerprint)).bind(impl_->engine_version).bind_bytes(record);
    if (auto s = insert.run(); !s) return s.error();
  }
  return t.commit();
}

std::optional<std::vector<FrameFacts>> Catalog::burst_facts(const std::string& key) {
  Statement burst(*impl_->db, "SELECT frames FROM bursts WHERE key=? AND engine=?");
  burst.bind_text(key).bind(impl_->engine_version);
  if (!impl_->row(burst, impl_->path)) return std::nullopt;
  const auto count = static_cast<std::size_t>(burst.integer(0));

  Statement s(*impl_->db, "SELECT path, record, thumbnail FROM frames WHERE burst=? ORDER BY position");
  s.bind_text(key);
  std::vector<FrameFacts> out;
  while (impl_->row(s, impl_->path)) {
    auto facts = impl_->facts(s, 1, s.text(0));
    if (!facts) return std::nullopt;
    out.push_back(std::move(*facts));
  }
  if (out.size() != count) return std::nullopt;
  return out;
}

Status Catalog::store_burst(const std::string& key, std::span<const Frame> frames,
                            std::span<const FrameFacts> facts) {
  if (frames.size() != facts.size())
    return Error{Cause::corrupt, impl_->path, "a burst and its facts differ in length"};
  Database& db = *impl_->db;
  Transaction t(db);
  if (auto s = t.begin(); !s) return s.error();

  Statement old_frames(
      db, "DELETE FROM frames WHERE burst=?1 OR burst IN (SELECT burst FROM frames WHERE path=?2)");
  Statement old_bursts(db,
                       "DELETE FROM bursts WHERE key=?1 OR key IN (SELECT burst FROM frames WHERE path=?2)");
  for (const Frame& f : frames) {
    const std::string path = stored_path(f.main().path);
    if (auto s = old_bursts.bind_text(key).bind_path(path).run(); !s) return s.error();
    if (auto s = old_frames.bind_text(key).bind_path(path).run(); !s) return s.error();
  }
  Statement burst(db, "INSERT INTO bursts VALUES(?,?,?)");
  burst.bind_text(key).bind(impl_->engine_version).bind(static_cast<std::int64_t>(frames.size()));
  if (auto s = burst.run(); !s) return s.error();
  Statement insert(db, "INSERT INTO frames VALUES(?,?,?,?,?)");
  for (std::size_t i = 0; i < frames.size(); ++i) {
    const ByteBuffer record = encode(facts[i]);
    insert.bind_text(key).bind(static_cast<std::int64_t>(i)).bind_path(stored_path(frames[i].main().path));
    insert.bind_bytes(record).bind_bytes(facts[i].thumbnail);
    if (auto s = insert.run(); !s) return s.error();
  }
  return t.commit();
}

Result<std::int64_t> Catalog::record_run(const Run& run) {
  const RunCounts& c = run.counts;
  Statement s(*impl_->db, "INSERT INTO runs VALUES(NULL,?,?,?,?,?,?,?,?,?,?,?)");
  s.bind(run.started_ms).bind(run.ended_ms).bind_path(run.folder).bind_text(run.options);
  s.bind_text(run.version).bind(c.frames).bind(c.bursts).bind(c.keeps).bind(c.undecided);
  s.bind(c.rejects).bind(c.damaged);
  if (auto done = s.run(); !done) return done.error();
  return impl_->db->last_id();
}

Status Catalog::finish_run(std::int64_t run, std::int64_t ended_ms, const RunCounts& c) {
  Statement s(*impl_->db,
              "UPDATE runs SET ended_ms=?, frames=?, bursts=?, keeps=?, undecided=?, rejects=?, damaged=? "
              "WHERE id=?");
  s.bind(ended_ms).bind(c.frames).bind(c.bursts).bind(c.keeps).bind(c.undecided).bind(c.rejects);
  if (auto done = s.bind(c.damaged).bind(run).run(); !done) return done.error();
  return forget_old_changes({}, ended_ms);
}

std::vector<RunHistory> Catalog::history() {
  const std::string sql =
      "SELECT " + kRunColumns +
      ", (SELECT count(DISTINCT path) FROM journal WHERE run=r.id AND done=1)"
      ", (SELECT count(DISTINCT path) FROM journal WHERE run=r.id AND done=1 AND undone=1)"
      ", (SELECT count(DISTINCT path) FROM journal WHERE run=r.id AND done=0 AND undone=0)"
      ", coalesce(j.forgotten, 0), j.changed, j.undone, j.planned"
      " FROM runs r LEFT JOIN journalled j ON j.run=r.id ORDER BY id";
  Statement s(*impl_->db, sql.c_str());
  std::vector<RunHistory> out;
  while (impl_->row(s, impl_->path)) {
    const bool forgotten = s.integer(15) != 0;
    const int first = forgotten ? 16 : 12;
    out.push_back({read_run(s, 0), s.integer(first), s.integer(first + 1), s.integer(first + 2), forgotten});
  }
  return out;
}

std::vector<Run> Catalog::runs() {
  const std::string sql = "SELECT " + kRunColumns + " FROM runs r ORDER BY id";
  Statement s(*impl_->db, sql.c_str());
  std::vector<Run> out;
  while (impl_->row(s, impl_->path)) out.push_back(read_run(s, 0));
  return out;
}

Status Catalog::record_verdicts(std::int64_t run, std::span<const PathVerdict> verdicts) {
  Transaction t(*impl_->db);
  if (auto s = t.begin(); !s) return s.error();
  Statement insert(*impl_->db, "INSERT OR REPLACE INTO verdicts VALUES(?,?,?)");
  for (const PathVerdict& v : verdicts) {
    const ByteBuffer record = encode(v.verdict);
    insert.bind_path(stored_path(v.path)).bind(run).bind_bytes(record);
    if (auto s = insert.run(); !s) return s.error();
  }
  return t.commit();
}

std::vector<PathVerdict> Catalog::verdicts_below(const std::string& folder) {
  // The paths of a folder stand together: "folder/" up to "folder0", the byte after '/'.
  std::string from;
  std::string to;
  if (!folder.empty()) {
    from = stored_path(folder);
    while (!from.empty() && from.back() == '/') from.pop_back();
    to = from + "0";
    from += "/";
  }
  Statement s(*impl_->db, folder.empty() ? "SELECT path, record FROM verdicts ORDER BY path"
                                         : "SELECT path, record FROM verdicts WHERE path>=? AND path<? "
                                           "ORDER BY path");
  if (!folder.empty()) s.bind_path(from).bind_path(to);
  std::vector<PathVerdict> out;
  while (impl_->row(s, impl_->path)) {
    auto verdict = decode_verdict(s.bytes(1));
    if (verdict)
      out.push_back({s.text(0), std::move(*verdict)});
    else
      impl_->note(s.text(0), verdict.error());
  }
  return out;
}

std::vector<Override> Catalog::overrides() {
  Statement s(*impl_->db, "SELECT path, ours, human, human_text, at_ms FROM overrides ORDER BY id");
  std::vector<Override> out;
  while (impl_->row(s, impl_->path)) {
    Override o;
    o.path = s.text(0);
    if (!s.is_null(1)) o.ours = static_cast<int>(s.integer(1));
    if (!s.is_null(2)) o.human = s.real(2);
    o.human_text = s.text(3);
    o.at_ms = s.integer(4);
    out.push_back(std::move(o));
  }
  return out;
}

std::optional<Explained> Catalog::explain(const std::string& path) {
  Explained out;
  out.path = stored_path(path);
  Statement frame(*impl_->db,
                  "SELECT record, thumbnail FROM frames WHERE path=? ORDER BY rowid DESC LIMIT 1");
  frame.bind_path(out.path);
  if (impl_->row(frame, path)) out.facts = impl_->facts(frame, 0, path);

  const std::string sql =
      "SELECT v.record, " + kRunColumns + " FROM verdicts v LEFT JOIN runs r ON r.id=v.run WHERE v.path=?";
  Statement verdict(*impl_->db, sql.c_str());
  verdict.bind_path(out.path);
  if (impl_->row(verdict, path)) {
    auto v = decode_verdict(verdict.bytes(0));
    if (v) {
      out.verdict = std::move(*v);
      if (!verdict.is_null(1)) out.run = read_run(verdict, 1);
    } else {
      impl_->note(path, v.error());
    }
  }
  if (!out.facts && !out.verdict) return std::nullopt;
  return out;
}

std::vector<std::string> Catalog::take_notes() {
  return std::exchange(impl_->notes, {});
}

}  // namespace burstsieve
