#include "commit.h"

#include <fmt/format.h>

#include "burstsieve/base/version.h"

namespace burstsieve::pipeline {
namespace {

bool below(const std::string& path, const std::string& folder) {
  return path.size() > folder.size() && path.starts_with(folder) &&
         (folder.ends_with('/') || path[folder.size()] == '/');
}

// Which of the folders the user named this file came from.
std::string root_of(const std::string& path, const std::vector<std::string>& places) {
  for (const std::string& place : places)
    if (below(path, place)) return place;
  return folder_of(path);
}

}  // namespace

std::vector<rank::Contender> contenders(const std::vector<Frame>& frames,
                                        const std::vector<FrameFacts>& facts,
                                        const group::PoseOptions& options) {
  std::vector<const PoseDescriptor*> pictures;
  for (const FrameFacts& f : facts) pictures.push_back(&f.pose);
  const std::vector<int> poses = group::pose_groups(pictures, options);
  std::vector<rank::Contender> out;
  for (std::size_t i = 0; i < frames.size(); ++i)
    out.push_back({leaf_of(frames[i].main().path), &facts[i], poses[i]});
  return out;
}

void SidecarDesk::fail(const Error& error) {
  ++summary_.errors;
  listener_.error(error);
}

void SidecarDesk::note_override(const FrameOutcome& outcome, const HumanRating& human) {
  if (options_.dry_run) return;
  const Override entry{outcome.frame.main().path, human.ours, human.rating, human.text, clock_.now_ms()};
  if (const auto stored = catalog_.record_override(entry); !stored) fail(stored.error());
}

void SidecarDesk::write_one(const Frame& named, FrameOutcome& outcome) {
  SidecarOptions where = options_.sidecars;
  if (!where.folder.empty()) where.root = root_of(named.main().path, options_.places);
  const auto places = sidecar_places(named, where, fs_);
  if (!places) {
    outcome.sidecars.push_back({named.main().path, "failed", {}});
    fail(places.error());
    return;
  }
  const SidecarEntry entry{outcome.verdict, outcome.facts.measures,
                           fmt::format("{:016x}", named.main().fingerprint), kVersion};
  for (const SidecarPlace& place : *places) {
    const auto written = write_sidecar(fs_, place, entry, options_.dry_run);
    if (!written) {
      outcome.sidecars.push_back({place.path, "failed", {}});
      fail(written.error());
      continue;
    }
    SidecarLine line{written->path, name_of(written->change), {}};
    if (written->human) {
      line.human_rating = written->human->cleared() ? "cleared" : written->human->text;
      note_override(outcome, *written->human);
    }
    summary_.created += written->change == SidecarChange::created;
    summary_.updated += written->change == SidecarChange::updated;
    summary_.unchanged += written->change == SidecarChange::unchanged;
    summary_.human += written->change == SidecarChange::human;
    outcome.sidecars.push_back(std::move(line));
  }
}

void SidecarDesk::write(FrameOutcome& outcome) {
  write_one(outcome.frame, outcome);
  for (const FileRef& copy : outcome.frame.copies) {
    Frame named;
    (copy.kind == FileKind::raw ? named.raw : named.jpeg) = copy;
    write_one(named, outcome);
  }
}

}  // namespace burstsieve::pipeline
