#include "burstsieve/sidecar/writer.h"

#include "burstsieve/base/durable.h"

namespace burstsieve {

namespace {

struct Existing {
  std::optional<FileStat> seen;
  ByteBuffer bytes;  // empty when there is no file
};

Result<Existing> read_existing(FileSystem& fs, const std::string& path) {
  const auto seen = fs.stat(path);
  if (!seen) return seen.error();
  Existing out{*seen, {}};
  if (!out.seen) return out;
  if (out.seen->type == FileType::symlink)
    return Error{Cause::unsupported, path, "is a symbolic link, left alone"};
  auto bytes = fs.read_file(path, kMaxSidecarBytes);
  if (!bytes) return bytes.error();
  out.bytes = std::move(*bytes);
  return out;
}

Error about(const std::string& path, const Error& e) {
  return Error{e.cause, path, e.text};
}

Result<std::optional<HumanRating>> human_in(const std::string& path, Bytes bytes) {
  const auto record = read_record(bytes);
  if (!record) return about(path, record.error());
  return record->human;
}

struct Word {
  std::string path;
  HumanRating rating;
};

Result<std::optional<Word>> word_in_others(FileSystem& fs, const SidecarPlace& place,
                                           const SidecarEntry* entry = nullptr) {
  for (const std::string& other : place.others) {
    const auto existing = read_existing(fs, other);
    if (!existing) return existing.error();
    const auto human = human_in(other, existing->bytes);
    if (!human) return human.error();
    if (*human && (!entry || stands_against(**human, *entry))) return std::optional<Word>({other, **human});
  }
  return std::optional<Word>();
}

}  // namespace

Result<SidecarPlan> plan_sidecar(FileSystem& fs, const SidecarPlace& place, const SidecarEntry& entry) {
  auto existing = read_existing(fs, place.path);
  if (!existing) return existing.error();
  auto merged = merge(existing->bytes, entry);
  if (!merged) return about(place.path, merged.error());
  SidecarPlan plan{
      {merged->change, place.path, merged->human}, existing->seen, std::move(existing->bytes), {}};
  if (merged->change == SidecarChange::human) return plan;
  const auto word = word_in_others(fs, place, &entry);
  if (!word) return word.error();
  if (*word) {
    plan.outcome = {SidecarChange::human, (*word)->path, (*word)->rating};
    return plan;
  }
  plan.after = std::move(merged->bytes);
  return plan;
}

Status apply_plan(FileSystem& fs, const SidecarPlan& plan) {
  if (!plan.writes()) return Done{};
  const std::string& path = plan.outcome.path;
  // Root may write anything; the photographer who took the permission away still meant it.
  if (plan.seen && (plan.seen->mode & 0222) == 0)
    return Error{Cause::io, path, "is write-protected, left alone"};
  if (!plan.seen)
    if (auto made = make_folders(fs, folder_of(path), 0777); !made) return made.error();
  return durable_replace(fs, path, plan.after, plan.seen);
}

Result<SidecarOutcome> write_sidecar(FileSystem& fs, const SidecarPlace& place, const SidecarEntry& entry,
                                     bool dry_run) {
  auto plan = plan_sidecar(fs, place, entry);
  if (!plan) return plan.error();
  if (!dry_run)
    if (auto done = apply_plan(fs, *plan); !done) return done.error();
  return std::move(plan->outcome);
}

Result<std::optional<HumanRating>> read_override(FileSystem& fs, const SidecarPlace& place) {
  const auto existing = read_existing(fs, place.path);
  if (!existing) return existing.error();
  auto human = human_in(place.path, existing->bytes);
  if (!human) return human.error();
  if (*human) return human;
  const auto word = word_in_others(fs, place);
  if (!word) return word.error();
  if (!*word) return std::optional<HumanRating>();
  return std::optional<HumanRating>((*word)->rating);
}

}  // namespace burstsieve
