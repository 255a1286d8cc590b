// The journal of changed sidecars: written ahead of the change, read backwards by undo.
#include <filesystem>

#include "burstsieve/base/fingerprint.h"
#include "impl.h"

namespace burstsieve {

using namespace catalog;

namespace {

// Unlike the other records' paths, links are resolved: "link/../a" cleaned up as text would name another
// file, and undo writes to what this names. The last component stays, link or not.
std::string real_place(const std::string& path) {
  namespace stdfs = std::filesystem;
  std::error_code failed;
  const stdfs::path absolute = stdfs::absolute(path, failed);
  if (failed) return path;
  const stdfs::path folder = stdfs::weakly_canonical(absolute.parent_path(), failed);
  return failed ? absolute.string() : (folder / absolute.filename()).string();
}

std::int64_t sum_of(const std::optional<Bytes>& bytes) {
  return bytes ? as_signed(fingerprint_of({}, *bytes)) : 0;
}

JournalEntry read_entry(const Statement& s) {
  JournalEntry e;
  e.run = s.integer(0);
  e.sequence = s.integer(1);
  e.path = s.text(2);
  std::optional<Bytes> before;
  if (!s.is_null(3)) before = s.bytes(3);
  e.before_damaged = sum_of(before) != s.integer(4);
  if (before && !e.before_damaged) e.before.emplace(before->begin(), before->end());
  e.wrote = static_cast<std::uint64_t>(s.integer(5));
  e.at_ms = s.integer(6);
  e.done = s.integer(7) != 0;
  return e;
}

Result<std::optional<std::int64_t>> one_number(Statement& s) {
  const auto there = s.step();
  if (!there) return there.error();
  if (!*there || s.is_null(0)) return std::optional<std::int64_t>();
  return std::optional<std::int64_t>(s.integer(0));
}

}  // namespace

Result<std::int64_t> Catalog::plan_changes(std::int64_t run, std::span<const PlannedChange> changes,
                                           std::int64_t at_ms) {
  Database& db = *impl_->db;
  Transaction t(db);
  if (auto s = t.begin(); !s) return s.error();
  Statement last(db, "SELECT max(sequence) FROM journal WHERE run=?");
  const auto highest = one_number(last.bind(run));
  if (!highest) return highest.error();
  const std::int64_t first = highest->value_or(0) + 1;
  Statement insert(db, "INSERT INTO journal VALUES(?,?,?,?,?,?,?,0,0)");
  std::int64_t sequence = first;
  std::int64_t bytes = 0;
  for (const PlannedChange& c : changes) {
    if (c.before) bytes += static_cast<std::int64_t>(c.before->size());
    insert.bind(run).bind(sequence++).bind_path(real_place(c.path));
    if (c.before)
      insert.bind_bytes(*c.before);
    else
      insert.bind_optional(std::optional<std::int64_t>());
    insert.bind(sum_of(c.before)).bind(as_signed(c.wrote)).bind(at_ms);
    if (auto s = insert.run(); !s) return s.error();
  }
  Statement sum(db,
                "INSERT INTO journalled VALUES(?1,?2,?3,0,0,0,0) ON CONFLICT(run) DO UPDATE SET "
                "bytes=bytes+?2, at_ms=max(at_ms,?3)");
  if (auto s = sum.bind(run).bind(bytes).bind(at_ms).run(); !s) return s.error();
  if (auto s = t.commit(); !s) return s.error();
  return first;
}

Status Catalog::changes_done(std::int64_t run, std::span<const std::int64_t> made,
                             std::span<const std::int64_t> never_made) {
  Transaction t(*impl_->db);
  if (auto s = t.begin(); !s) return s.error();
  // An undo that ran meanwhile may have found the file as before and taken the change for one that never
  // happened.
  Statement update(*impl_->db, "UPDATE journal SET done=1, undone=0 WHERE run=? AND sequence=?");
  for (const std::int64_t sequence : made)
    if (auto s = update.bind(run).bind(sequence).run(); !s) return s.error();
  Statement forget(*impl_->db, "DELETE FROM journal WHERE run=? AND sequence=?");
  for (const std::int64_t sequence : never_made)
    if (auto s = forget.bind(run).bind(sequence).run(); !s) return s.error();
  return t.commit();
}

Result<std::optional<JournalEntry>> Catalog::change_before(std::int64_t run, std::int64_t below) {
  Statement s(*impl_->db,
              "SELECT run, sequence, path, before, before_sum, wrote, at_ms, done FROM journal "
              "WHERE run=? AND sequence<? AND undone=0 ORDER BY sequence DESC LIMIT 1");
  const auto there = s.bind(run).bind(below).step();
  if (!there) return there.error();
  if (!*there) return std::optional<JournalEntry>();
  return std::optional<JournalEntry>(read_entry(s));
}

Result<std::optional<std::int64_t>> Catalog::run_that_changed_after(const JournalEntry& entry) {
  // In the order in which the changes were planned, which the row number tells: of two runs at once, the one
  // that began first may have been the last at this sidecar.
  Statement s(*impl_->db,
              "SELECT run FROM journal WHERE path=?1 AND rowid>(SELECT rowid FROM journal WHERE run=?2 AND "
              "sequence=?3) AND done=1 AND undone=0 ORDER BY rowid DESC LIMIT 1");
  return one_number(s.bind_path(entry.path).bind(entry.run).bind(entry.sequence));
}

Status Catalog::mark_undone(const JournalEntry& entry, bool changed) {
  Statement s(*impl_->db, "UPDATE journal SET undone=1, done=max(done,?) WHERE run=? AND sequence=?");
  return s.bind(changed ? 1 : 0).bind(entry.run).bind(entry.sequence).run();
}

namespace {

// The runs to forget: from the first one, newest first, that is beyond a limit.
Result<std::vector<std::int64_t>> too_old(Database& db, const JournalLimits& limits, std::int64_t now_ms) {
  constexpr std::int64_t kHour = 3'600'000;
  // A run none of whose changes happened has no lines left, and is not the last that changed something.
  Statement s(db,
              "SELECT run, bytes, at_ms FROM journalled j WHERE forgotten=0 AND "
              "EXISTS(SELECT 1 FROM journal WHERE run=j.run) ORDER BY run DESC");
  std::vector<std::int64_t> out;
  std::int64_t runs = 0, bytes = 0;
  for (;;) {
    const auto there = s.step();
    if (!there) return there.error();
    if (!*there) return out;
    ++runs;
    bytes += s.integer(1);
    const std::int64_t age_ms = now_ms - s.integer(2);
    const bool stays_always = runs == 1 || age_ms < limits.hours_always * kHour;
    const bool stays = (runs <= limits.runs || age_ms < limits.days * 24 * kHour) && bytes <= limits.bytes;
    if (!stays_always && !stays) out.push_back(s.integer(0));
  }
}

Status forget(Database& db, std::int64_t run) {
  Statement keep(db,
                 "UPDATE journalled SET bytes=0, forgotten=1, "
                 "changed=(SELECT count(DISTINCT path) FROM journal WHERE run=?1 AND done=1), "
                 "undone=(SELECT count(DISTINCT path) FROM journal WHERE run=?1 AND done=1 AND undone=1), "
                 "planned=(SELECT count(DISTINCT path) FROM journal WHERE run=?1 AND done=0 AND undone=0) "
                 "WHERE run=?1");
  if (auto s = keep.bind(run).run(); !s) return s.error();
  Statement away(db, "DELETE FROM journal WHERE run=?");
  return away.bind(run).run();
}

}  // namespace

Status Catalog::forget_old_changes(const JournalLimits& limits, std::int64_t now_ms) {
  Database& db = *impl_->db;
  const auto some = too_old(db, limits, now_ms);
  if (!some) return some.error();
  if (some->empty()) return Done{};  // as a rule: no write lock for nothing
  Transaction t(db);
  if (auto s = t.begin(); !s) return s.error();
  // Looked up again: another process may have forgotten, or added, meanwhile.
  const auto runs = too_old(db, limits, now_ms);
  if (!runs) return runs.error();
  for (const std::int64_t run : *runs)
    if (auto s = forget(db, run); !s) return s.error();
  return t.commit();
}

Result<bool> Catalog::is_forgotten(std::int64_t run) {
  Statement s(*impl_->db, "SELECT forgotten FROM journalled WHERE run=?");
  const auto found = one_number(s.bind(run));
  if (!found) return found.error();
  return found->value_or(0) != 0;
}

Result<std::optional<std::int64_t>> Catalog::last_run_with_changes() {
  Statement s(*impl_->db, "SELECT max(run) FROM journal WHERE done=1 OR undone=0");
  return one_number(s);
}

}  // namespace burstsieve
