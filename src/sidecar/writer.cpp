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

Result<std::optional<Word>> word_in_others(FileSystem& fs, const SidecarPlace& place) {
  for (const std::string& other : place.others) {
    const auto existing = read_existing(fs, other);
    if (!existing) return existing.error();
    const auto human = human_in(other, existing->bytes);
    if (!human) return human.error();
    if (*human) return std::optional<Word>({other, **human});
  }
  return std::optional<Word>();
}

Status replace(FileSystem& fs, const std::string& path, const Existing& existing, const Merged& merged) {
  // Root may write anything; the photographer who took the permission away still meant it.
  if (existing.seen && (existing.seen->mode & 0222) == 0)
    return Error{Cause::io, path, "is write-protected, left alone"};
  if (!existing.seen)
    if (auto made = make_folders(fs, folder_of(path), 0777); !made) return made.error();
  return durable_replace(fs, path, merged.bytes, existing.seen);
}

}  // namespace

Result<SidecarOutcome> write_sidecar(FileSystem& fs, const SidecarPlace& place, const SidecarEntry& entry,
                                     bool dry_run) {
  const auto existing = read_existing(fs, place.path);
  if (!existing) return existing.error();
  const auto merged = merge(existing->bytes, entry);
  if (!merged) return about(place.path, merged.error());
  if (merged->change == SidecarChange::human)
    return SidecarOutcome{SidecarChange::human, place.path, merged->human};
  const auto word = word_in_others(fs, place);
  if (!word) return word.error();
  if (*word) return SidecarOutcome{SidecarChange::human, (*word)->path, (*word)->rating};

  const SidecarOutcome outcome{merged->change, place.path, std::nullopt};
  if (dry_run || merged->change == SidecarChange::unchanged) return outcome;
  if (auto done = replace(fs, place.path, *existing, *merged); !done) return done.error();
  return outcome;
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
