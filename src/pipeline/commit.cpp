#include "commit.h"

#include <fmt/format.h>

#include <map>
#include <utility>

#include "burstsieve/base/durable.h"
#include "burstsieve/base/text.h"
#include "burstsieve/base/version.h"
#include "burstsieve/sidecar/restore.h"

namespace burstsieve::pipeline {
namespace {

// Bytes held for planned changes. Only sidecars with painted masks come near; a burst of them is journalled
// in several transactions.
constexpr std::size_t kMaxPendingBytes = 16u << 20;

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

void SidecarDesk::fail(const Error& error) {
  ++summary_.errors;
  listener_.error(error);
}

void SidecarDesk::note_override(const FrameOutcome& outcome, const HumanRating& human) {
  if (options_.dry_run) return;
  const Override entry{outcome.frame.main().path, human.ours, human.rating, human.text, clock_.now_ms()};
  if (const auto stored = catalog_.record_override(entry, options_.profile); !stored) fail(stored.error());
}

Result<std::vector<SidecarPlace>> SidecarDesk::places_of(const Frame& named) {
  SidecarOptions where = options_.sidecars;
  if (!where.folder.empty()) where.root = root_of(named.main().path, options_.places);
  return sidecar_places(named, where, fs_, namings_);
}

std::optional<HumanRating> SidecarDesk::human_word(const Frame& frame) {
  const auto places = places_of(frame);
  if (!places) return std::nullopt;
  for (const SidecarPlace& place : *places)
    if (const auto said = read_override(fs_, place); said && *said) return **said;
  return std::nullopt;
}

// Two photographs that would share one sidecar (NAME.JPG and NAME.jpeg under the plain name, two cards into
// one folder): the second would speak for the first. It gets an error, not the first one's sidecar.
bool SidecarDesk::claimed(const SidecarPlace& place, const Frame& named, FrameOutcome& outcome) {
  const auto [owner, fresh] = owners_.emplace(place.path, named.main().path);
  if (fresh || owner->second == named.main().path) return true;
  outcome.sidecars.push_back({place.path, "failed", {}});
  fail({Cause::unsupported, named.main().path,
        "its sidecar " + place.path + " is already that of " + owner->second +
            "; nothing was written for it"});
  return false;
}

// Once for each folder of sidecars: what a killed run left there. Failing is no reason to write nothing; the
// sidecars themselves will say what is wrong.
void SidecarDesk::tidy(const SidecarPlace& place) {
  const std::string folder = folder_of(place.path);
  if (!options_.dry_run && tidied_.insert(folder).second) static_cast<void>(tidy_folder(fs_, folder));
}

void SidecarDesk::write_one(const Frame& named, FrameOutcome& outcome, const PersonsWord& word) {
  const auto places = places_of(named);
  if (!places) {
    outcome.sidecars.push_back({named.main().path, "failed", {}});
    fail(places.error());
    return;
  }
  const SidecarEntry entry{
      outcome.verdict, outcome.facts.measures, fmt::format("{:016x}", named.main().fingerprint), kVersion,
      word.given,      word.replaceable};
  for (const SidecarPlace& place : *places) tidy(place);
  for (const SidecarPlace& place : *places)
    if (claimed(place, named, outcome)) plan_one(place, named.main().path, entry, outcome);
}

void SidecarDesk::plan_one(const SidecarPlace& place, const std::string& photograph,
                           const SidecarEntry& entry, FrameOutcome& outcome) {
  // Two photographs may share a sidecar: the second must see what the first put there.
  if (pending_paths_.count(place.path) != 0) flush();
  auto plan = plan_sidecar(fs_, place, entry);
  if (!plan) {
    outcome.sidecars.push_back({place.path, "failed", {}});
    fail(plan.error());
    return;
  }
  const SidecarOutcome& what = plan->outcome;
  SidecarLine line{what.path, name_of(what.change), {}};
  if (what.human) {
    line.human_rating = what.human->cleared() ? "cleared" : what.human->text;
    note_override(outcome, *what.human);
  }
  outcome.sidecars.push_back(std::move(line));
  if (options_.dry_run || !plan->writes()) {
    count(what.change);
    return;
  }
  pending_paths_.insert(place.path);
  pending_bytes_ += plan->before.size() + plan->after.size();
  pending_.push_back({&outcome, outcome.sidecars.size() - 1, std::move(*plan), photograph});
  if (pending_bytes_ > kMaxPendingBytes) flush();
}

void SidecarDesk::count(SidecarChange change) {
  summary_.created += change == SidecarChange::created;
  summary_.updated += change == SidecarChange::updated;
  summary_.unchanged += change == SidecarChange::unchanged;
  summary_.human += change == SidecarChange::human;
}

namespace {

std::optional<Bytes> before_of(const SidecarPlan& plan) {
  return plan.seen ? std::optional<Bytes>(plan.before) : std::nullopt;
}

}  // namespace

Result<std::int64_t> SidecarDesk::journal(const std::vector<Pending>& batch) {
  std::vector<PlannedChange> changes;
  for (const Pending& p : batch)
    changes.push_back({p.plan.outcome.path, before_of(p.plan), contents_sum(p.plan.after)});
  return catalog_.plan_changes(run_, changes, clock_.now_ms());
}

// A folder that was renamed, or a card that was pulled, while we measured: a sidecar would make the folder
// anew and lie there alone, and one kept elsewhere would lose what it says to a frame that could not be read.
Status SidecarDesk::apply(const Pending& planned) {
  const auto there = fs_.stat(planned.photograph);
  if (!there) return there.error();
  if (!*there) return Error{Cause::io, planned.photograph, "is gone; no sidecar was written for it"};
  return apply_plan(fs_, planned.plan);
}

void SidecarDesk::flush() {
  if (pending_.empty()) return;
  const std::vector<Pending> batch = std::exchange(pending_, {});
  pending_paths_.clear();
  pending_bytes_ = 0;
  const auto first = journal(batch);
  if (!first) fail(first.error());  // what can't be undone isn't done
  std::vector<std::int64_t> made, never_made;
  for (std::size_t i = 0; i < batch.size(); ++i) {
    const Pending& p = batch[i];
    const std::string& path = p.plan.outcome.path;
    Status done = first ? apply(p) : Status(first.error());
    if (done) {
      count(p.plan.outcome.change);
      made.push_back(*first + static_cast<std::int64_t>(i));
      continue;
    }
    p.outcome->sidecars[p.line].change = "failed";
    if (!first) continue;
    fail(done.error());
    // The last step, syncing the folder, can fail when the new contents stand there already.
    const auto look = restore_sidecar(fs_, path, before_of(p.plan), contents_sum(p.plan.after), true);
    if (!look) continue;  // stays planned: undo looks again
    const bool ours = *look == Restored::restored || *look == Restored::removed;
    (ours ? made : never_made).push_back(*first + static_cast<std::int64_t>(i));
  }
  if (!first) return;
  if (const auto s = catalog_.changes_done(run_, made, never_made); !s) fail(s.error());
}

namespace {

// Copies of a pair are a pair again where they lie together.
std::vector<Frame> copied_frames(const std::vector<FileRef>& copies) {
  std::map<std::string, Frame> by_stem;
  std::vector<Frame> out;
  for (const FileRef& copy : copies) {
    Frame& f = by_stem[lower_ascii(copy.path.substr(0, copy.path.rfind('.')))];
    auto& place = copy.kind == FileKind::raw ? f.raw : f.jpeg;
    if (!place) {
      place = copy;
      continue;
    }
    Frame alone;
    (copy.kind == FileKind::raw ? alone.raw : alone.jpeg) = copy;
    out.push_back(std::move(alone));
  }
  for (auto& [stem, frame] : by_stem) out.push_back(std::move(frame));
  return out;
}

}  // namespace

void SidecarDesk::write(FrameOutcome& outcome, const PersonsWord& word) {
  write_one(outcome.frame, outcome, word);
  for (const Frame& copy : copied_frames(outcome.frame.copies)) write_one(copy, outcome, word);
}

}  // namespace burstsieve::pipeline
