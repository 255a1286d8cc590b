#include "set_aside_mover.h"

#include <fmt/format.h>

#include <utility>

namespace burstsieve::pipeline {

Mover::Mover(std::string dir, Manifest& manifest, FileSystem& fs, Clock& clock, SetAsideListener& listener,
             SetAsideSummary& summary)
    : dir_(std::move(dir)),
      manifest_(manifest),
      fs_(fs),
      clock_(clock),
      listener_(listener),
      summary_(summary) {}

Status Mover::settle() {
  std::vector<ManifestFrame> open;
  for (const ManifestFrame& f : manifest_.frames())
    if (f.state == AsideState::planned || f.state == AsideState::returning) open.push_back(f);
  if (open.empty()) return Done{};
  if (summary_.dry_run) {
    listener_.note(dir_,
                   fmt::format("{} frames that an earlier run was at when it was stopped would be put in "
                               "order first",
                               open.size()));
    return Done{};
  }
  for (const ManifestFrame& f : open) {
    const bool returning = f.state == AsideState::returning;
    if (auto absent = root_missing(f); !returning && absent) {
      fail(*absent);
      continue;
    }
    const auto moves = returning ? manifest_.returns_of(f) : manifest_.moves_of(f);
    const GroupMove done = take_back(fs_, moves);
    for (const Error& e : done.errors) fail(e);
    if (done.place == GroupPlace::between) continue;
    const AsideState now = returning ? AsideState::aside : AsideState::not_moved;
    if (auto s = manifest_.mark(f.id, now, clock_.now_ms()); !s) return s.error();
    ++summary_.finished;
  }
  return Done{};
}

Result<bool> Mover::move(std::int64_t id, std::vector<MovingFile> moves, AsideState there, AsideState here) {
  const GroupMove done = move_group(fs_, moves);
  for (const Error& e : done.errors) fail(e);
  if (done.place == GroupPlace::between) return false;
  const bool arrived = done.place == GroupPlace::there;
  if (auto s = manifest_.mark(id, arrived ? there : here, clock_.now_ms()); !s) return s.error();
  return arrived;
}

void Mover::told(const AsideFrame& frame) {
  ++summary_.frames;
  summary_.files += frame.files.size();
  for (const AsideFile& f : frame.files) summary_.bytes += f.size;
  listener_.frame(frame);
}

void Mover::fail(const Error& error) {
  ++summary_.errors;
  listener_.error(error);
}

std::optional<Error> Mover::root_missing(const ManifestFrame& f) {
  for (const ManifestFile& file : f.files) {
    const auto there = fs_.stat(file.root);
    if (!there) return there.error();
    if (!*there || (*there)->type != FileType::folder)
      return Error{Cause::io, file.from, file.root + " is not there; is its disk or card mounted?"};
  }
  return std::nullopt;
}

Result<std::unique_ptr<FolderHold>> held(FileSystem& fs, const std::string& dir, bool dry_run) {
  if (dry_run) return std::unique_ptr<FolderHold>();
  return fs.hold(dir);
}

Status undamaged(const Manifest& manifest) {
  if (manifest.damaged().empty()) return Done{};
  const Error& first = manifest.damaged().front();
  return Error{first.cause, first.file, first.text + "; set aside to another folder"};
}

Status settle_set_aside(const std::string& dir, FileSystem& fs, Clock& clock, SetAsideListener& listener,
                        SetAsideSummary& summary) {
  auto manifest = Manifest::read(fs, dir);
  if (!manifest) return manifest.error();
  if (auto s = undamaged(*manifest); !s) return s.error();
  if (auto s = Mover(dir, *manifest, fs, clock, listener, summary).settle(); !s) return s.error();
  return manifest->finish();
}

}  // namespace burstsieve::pipeline
