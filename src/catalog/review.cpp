// What the photographer said on the review page: a log that only grows.
#include "impl.h"

namespace burstsieve {

using namespace catalog;

namespace {

Error unreadable(const std::string& catalogue) {
  return Error{Cause::corrupt, catalogue, "a decision of the review is damaged"};
}

std::optional<Verdict> verdict_from(std::int64_t v) {
  if (v < 0 || v > static_cast<std::int64_t>(Verdict::reject)) return std::nullopt;
  return static_cast<Verdict>(v);
}

}  // namespace

Status Catalog::record_review_step(const std::string& folder, const ReviewStep& step) {
  Database& db = *impl_->db;
  Transaction t(db);
  if (auto s = t.begin(); !s) return s.error();
  Statement insert(db, "INSERT INTO review_steps VALUES(NULL,?,?,?)");
  insert.bind_path(stored_path(folder)).bind(static_cast<int>(step.kind)).bind(step.at_ms);
  if (auto s = insert.run(); !s) return s.error();
  const std::int64_t id = db.last_id();
  Statement choice(db, "INSERT INTO review_choices VALUES(?,?,?,?,?,?)");
  for (const ReviewChoice& c : step.choices) {
    std::optional<std::int64_t> verdict;
    if (c.verdict) verdict = static_cast<std::int64_t>(*c.verdict);
    choice.bind(id).bind_path(stored_path(c.path)).bind(as_signed(c.fingerprint)).bind_optional(verdict);
    choice.bind_optional(c.rating).bind_text(c.seen);
    if (auto s = choice.run(); !s) return s.error();
  }
  return t.commit();
}

Result<std::vector<ReviewStep>> Catalog::review_steps(const std::string& folder) {
  Statement s(*impl_->db,
              "SELECT s.id, s.kind, s.at_ms, c.path, c.fingerprint, c.verdict, c.rating, c.seen "
              "FROM review_steps s LEFT JOIN review_choices c ON c.step=s.id WHERE s.folder=? "
              "ORDER BY s.id, c.path");
  s.bind_path(stored_path(folder));
  std::vector<ReviewStep> out;
  std::int64_t last = 0;
  for (;;) {
    const auto there = s.step();
    if (!there) return there.error();
    if (!*there) return out;
    if (s.integer(0) != last) {
      const std::int64_t kind = s.integer(1);
      if (kind < 0 || kind > 2) return unreadable(impl_->path);
      out.push_back({static_cast<ReviewStep::Kind>(kind), s.integer(2), {}});
      last = s.integer(0);
    }
    if (s.is_null(3)) continue;
    ReviewChoice c;
    c.path = s.text(3);
    c.fingerprint = static_cast<std::uint64_t>(s.integer(4));
    if (!s.is_null(5)) {
      c.verdict = verdict_from(s.integer(5));
      if (!c.verdict) return unreadable(impl_->path);
    }
    if (!s.is_null(6)) {
      if (s.integer(6) < 1 || s.integer(6) > 5) return unreadable(impl_->path);
      c.rating = static_cast<int>(s.integer(6));
    }
    c.seen = s.text(7);
    out.back().choices.push_back(std::move(c));
  }
}

Status Catalog::record_written(std::span<const WrittenWord> words) {
  Transaction t(*impl_->db);
  if (auto s = t.begin(); !s) return s.error();
  Statement insert(*impl_->db, "INSERT OR REPLACE INTO review_written VALUES(?,?,?)");
  for (const WrittenWord& w : words) {
    insert.bind_path(stored_path(w.path)).bind(as_signed(w.fingerprint)).bind_text(w.said);
    if (auto s = insert.run(); !s) return s.error();
  }
  return t.commit();
}

Result<std::optional<WrittenWord>> Catalog::written_word(const std::string& path) {
  Statement s(*impl_->db, "SELECT path, fingerprint, said FROM review_written WHERE path=?");
  const auto there = s.bind_path(stored_path(path)).step();
  if (!there) return there.error();
  if (!*there) return std::optional<WrittenWord>();
  return std::optional<WrittenWord>({s.text(0), static_cast<std::uint64_t>(s.integer(1)), s.text(2)});
}

std::optional<ByteBuffer> Catalog::thumbnail_of(const std::string& path) {
  Statement s(*impl_->db, "SELECT thumbnail FROM frames WHERE path=? ORDER BY rowid DESC LIMIT 1");
  s.bind_path(stored_path(path));
  if (!impl_->row(s, path)) return std::nullopt;
  const Bytes bytes = s.bytes(0);
  return ByteBuffer(bytes.begin(), bytes.end());
}

}  // namespace burstsieve
