#include "burstsieve/watch/tracker.h"

#include <algorithm>
#include <cmath>

#include "burstsieve/base/file_system.h"
#include "burstsieve/base/text.h"
#include "paths.h"

namespace burstsieve::watch {
namespace {

// Rounds of one pass. Each joins bursts that touch; more than a few happen only when a season's gaps close
// up.
constexpr int kMaxRounds = 20;
// Attempts at a frame that is read but fails again and again (a folder that takes no sidecars): with the
// pauses between them more than an hour. A change, the folder's return or a restart begins anew.
constexpr int kMaxAttempts = 12;

std::int64_t ms(double seconds) {
  return std::llround(seconds * 1000);
}

std::string beside_key(const std::string& path) {
  const std::string name = leaf_of(path);
  const auto dot = name.rfind('.');
  const bool suffix = dot != std::string::npos && dot > 0;
  return folder_of(path) + "/" + lower_ascii(suffix ? name.substr(0, dot) : name);
}

std::vector<const FileRef*> files_of(const Frame& frame) {
  std::vector<const FileRef*> out;
  if (frame.raw) out.push_back(&*frame.raw);
  if (frame.jpeg) out.push_back(&*frame.jpeg);
  for (const FileRef& copy : frame.copies) out.push_back(&copy);
  return out;
}

}  // namespace

Tracker::Tracker(const WatchOptions& options, const group::BurstOptions& bursts)
    : options_(options), bursts_options_(bursts) {}

void Tracker::observe(const Listing& listing, std::int64_t now_ms) {
  ++round_;
  for (const FileSeen& f : listing.files) seen(f, now_ms);
  settle_absent(listing, now_ms);
}

void Tracker::seen(const FileSeen& now, std::int64_t now_ms) {
  const auto [it, fresh] = files_.try_emplace(now.path);
  File& f = it->second;
  f.round = round_;
  const bool changed = fresh || f.size != now.size || f.mtime_ns != now.mtime_ns;
  if (fresh) {
    f.arrived_ms = now_ms;
    beside_[beside_key(now.path)].insert(now.path);
  }
  if (changed) {
    const bool photograph = f.known.has_value();
    if (photograph || now_ms - f.arrived_ms <= ms(kRestless_s)) activity_[folder_of(now.path)] = now_ms;
    recheck_around(now.path, f);
    forget(now.path, f);
    f.size = now.size;
    f.mtime_ns = now.mtime_ns;
    f.changed_ms = now_ms;
    f.done = f.failing = false;
    if (photograph) f.attempts = 0, f.not_before_ms = 0;
  } else if (!f.present && f.failing) {  // the card is back: what failed then may go right now
    f.done = f.failing = false;
    f.attempts = 0;
    f.not_before_ms = 0;
  }
  f.present = true;
}

void Tracker::settle_absent(const Listing& listing, std::int64_t now_ms) {
  std::vector<std::string> gone;
  for (auto& [path, f] : files_) {
    if (f.round == round_) continue;
    const bool unknown = std::any_of(listing.errors.begin(), listing.errors.end(),
                                     [&p = path](const Error& e) { return below(p, e.file); });
    if (unknown)
      f.present = false;
    else
      gone.push_back(path);
  }
  std::sort(gone.begin(), gone.end());
  for (const std::string& path : gone) {
    File& f = files_.at(path);
    if (f.known) activity_[folder_of(path)] = now_ms;
    recheck_around(path, f);
    forget(path, f);
    const auto beside = beside_.find(beside_key(path));
    beside->second.erase(path);
    if (beside->second.empty()) beside_.erase(beside);
    files_.erase(path);
  }
}

// A frame that goes may have been what parted the bursts before and after it.
void Tracker::recheck_around(const std::string& path, const File& f) {
  if (!f.known || !f.known->time_ms) return;
  const std::int64_t time = *f.known->time_ms;
  const auto r = reach_.find(f.known->camera);
  const std::int64_t reach = r == reach_.end() ? reach_of({}) : r->second;
  const auto fits = [&](const std::string& other) {
    File& g = files_.at(other);
    if (other == path || g.known->camera != f.known->camera || g.burst == f.burst) return false;
    g.recheck = true;
    return true;
  };
  const auto at = by_time_.lower_bound({time, ""});
  for (auto it = at; it != by_time_.end() && it->first <= time + reach; ++it)
    if (fits(it->second)) break;
  for (auto it = at; it != by_time_.begin();) {
    --it;
    if (it->first < time - reach || fits(it->second)) break;
  }
}

// The file is no longer what was learnt of it: the burst it stood in is judged again without it.
void Tracker::forget(const std::string& path, File& f) {
  if (f.burst != 0) dissolve(f.burst);
  if (!f.known) return;
  if (f.known->time_ms) by_time_.erase({*f.known->time_ms, path});
  const auto [first, last] = by_fingerprint_.equal_range(f.known->fingerprint);
  const auto copy = std::find_if(first, last, [&](const auto& e) { return e.second == path; });
  if (copy != last) by_fingerprint_.erase(copy);
  const std::string camera = f.known->camera;
  f.known.reset();
  const auto witness = counting_.find(camera);
  if (witness == counting_.end() || witness->second != path) return;
  counting_.erase(witness);
  for (const auto& [other, g] : files_)
    if (g.known && g.known->counts && g.known->camera == camera) {
      counting_.emplace(camera, other);
      return;
    }
  // Nothing shows the counter counting any more: its bursts may part otherwise.
  for (auto& [other, g] : files_)
    if (g.known && g.known->camera == camera && g.burst != 0) dissolve(g.burst);
}

void Tracker::dissolve(std::int64_t burst) {
  const auto it = bursts_.find(burst);
  if (it == bursts_.end()) return;
  for (const std::string& path : it->second.paths)
    if (const auto f = files_.find(path); f != files_.end() && f->second.burst == burst) {
      f->second.burst = 0;
      f->second.done = false;
      f->second.not_before_ms = 0;
    }
  bursts_.erase(it);
}

bool Tracker::settled(const File& f, std::int64_t now_ms) const {
  return f.present && now_ms - f.changed_ms >= ms(options_.settle_s);
}

std::int64_t Tracker::quiet_at(const std::string& path) const {
  const auto it = activity_.find(folder_of(path));
  return it == activity_.end() ? 0 : it->second + ms(options_.quiet_s);
}

bool Tracker::quiet(const std::string& path, std::int64_t now_ms) const {
  return now_ms >= quiet_at(path);
}

bool Tracker::candidate(const std::string& path, const File& f, std::int64_t now_ms, bool hurry) const {
  if ((f.done && !f.recheck) || f.size == 0 || !settled(f, now_ms)) return false;
  if (!hurry && (f.not_before_ms > now_ms || !quiet(path, now_ms))) return false;
  return !is_temporary_name(path);
}

void Tracker::select(const std::string& path) {
  const auto it = files_.find(path);
  if (it != files_.end() && settled(it->second, pass_ms_) && !is_temporary_name(path)) selected_.insert(path);
}

void Tracker::select_burst_of(const std::string& path) {
  select(path);
  const auto it = files_.find(path);
  if (it == files_.end()) return;
  const auto burst = bursts_.find(it->second.burst);
  if (burst == bursts_.end()) return;
  for (const std::string& p : burst->second.paths) select(p);
}

void Tracker::select_beside(const std::string& path) {
  const auto it = beside_.find(beside_key(path));
  if (it == beside_.end() || it->second.size() < 2) return;
  for (const std::string& p : it->second)
    if (p != path) select_burst_of(p);
}

bool Tracker::begin_pass(std::int64_t now_ms, bool hurry) {
  pass_ms_ = now_ms;
  hurry_ = hurry;
  rounds_ = 0;
  burst_before_ = next_burst_;
  for (auto* set : {&selected_, &candidates_, &offered_, &learnt_, &failed_, &held_}) set->clear();
  deferred_.clear();
  needed_.clear();
  for (const auto& [path, f] : files_)
    if (candidate(path, f, now_ms, hurry)) candidates_.insert(path);
  if (candidates_.empty()) return false;
  selected_ = candidates_;
  for (const std::string& path : candidates_) {
    if (files_.at(path).recheck) select_burst_of(path);
    select_beside(path);
  }
  for (const auto& [camera, path] : counting_) select(path);
  return true;
}

bool Tracker::file_ready(const std::string& path, std::uint64_t size, std::int64_t mtime_ns) {
  if (selected_.count(path) == 0) return false;
  const auto it = files_.find(path);
  const bool same = it != files_.end() && it->second.size == size && it->second.mtime_ns == mtime_ns;
  if (same) offered_.insert(path);
  return same;
}

bool Tracker::burst_ready(const Burst& burst) {
  learn(burst);
  Paths paths;
  for (const Frame& frame : burst.frames)
    for (const FileRef* ref : files_of(frame)) paths.insert(ref->path);
  const bool same = unchanged(paths);
  const bool alone = std::any_of(paths.begin(), paths.end(), [&](const std::string& p) {
    return candidates_.count(p) != 0 && files_.at(p).recheck;
  });
  if (same && !alone) return false;
  if (!hurry_) {
    std::int64_t wait_until = 0;
    for (const std::string& p : paths) wait_until = std::max(wait_until, quiet_at(p));
    if (wait_until > pass_ms_) {  // it reaches into a folder that still fills
      for (const std::string& p : paths)
        if (const auto f = files_.find(p); f != files_.end()) {
          f->second.not_before_ms = std::max(f->second.not_before_ms, wait_until);
          held_.insert(p);
        }
      return false;
    }
  }
  Paths needed = neighbours(burst);
  if (needed.empty() || rounds_ >= kMaxRounds) return !same;
  needed_.merge(needed);
  deferred_.merge(paths);
  return false;
}

void Tracker::learn(const Burst& burst) {
  for (const Frame& frame : burst.frames)
    for (const FileRef* ref : files_of(frame)) learn_file(*ref, frame, burst.camera);
}

void Tracker::learn_file(const FileRef& ref, const Frame& frame, const std::string& camera) {
  learnt_.insert(ref.path);
  const auto it = files_.find(ref.path);
  if (it == files_.end()) return;
  File& f = it->second;
  const bool counts = frame.capture.sequence_number.value_or(0) >= 2;
  if (!f.known || f.known->fingerprint != ref.fingerprint || f.known->time_ms != frame.capture.time_ms ||
      f.known->camera != camera) {
    const std::int64_t burst = f.burst;
    f.burst =
        0;  // the same bytes seen in another light (a pair found its partner): its burst decides for itself
    forget(ref.path, f);
    f.burst = burst;
    f.known = Known{camera, frame.capture.time_ms, ref.size, ref.fingerprint, counts};
    if (frame.capture.time_ms) by_time_.insert({*frame.capture.time_ms, ref.path});
    by_fingerprint_.emplace(ref.fingerprint, ref.path);
  }
  if (counts) counter_seen(camera, ref.path);
}

// Whether a camera's sequence numbers mean anything is told by all of its frames (group/bursts.h): the first
// one that counts may part bursts that were judged before it came.
void Tracker::counter_seen(const std::string& camera, const std::string& path) {
  if (!counting_.emplace(camera, path).second) return;
  for (auto& [other, f] : files_)
    if (f.known && f.known->camera == camera && f.burst != 0 && selected_.count(other) == 0)
      dissolve(f.burst);
}

// True when these files are a burst that was judged, or the part of one that was called as a witness.
bool Tracker::unchanged(const Paths& paths) const {
  std::int64_t id = 0;
  for (const std::string& p : paths) {
    const auto f = files_.find(p);
    if (f == files_.end() || f->second.burst == 0) return false;
    if (!f->second.done && f->second.burst <= burst_before_) return false;
    if (id != 0 && f->second.burst != id) return false;
    id = f->second.burst;
    // Two photographs of one name may share a sidecar: they are judged together.
    for (const std::string& sibling : beside_.at(beside_key(p)))
      if (candidates_.count(sibling) != 0 && paths.count(sibling) == 0) return false;
  }
  const auto known = bursts_.find(id);
  if (known == bursts_.end()) return false;
  const auto& members = known->second.paths;
  return members.size() == paths.size() ||
         std::any_of(members.begin(), members.end(),
                     [&](const std::string& m) { return selected_.count(m) == 0; });
}

// How far from a burst of this kind another frame may still belong to it (group::BurstOptions).
std::int64_t Tracker::reach_of(const Burst& burst) const {
  double widest = 0;
  for (std::size_t i = 1; i < burst.frames.size(); ++i) {
    const auto a = burst.frames[i - 1].capture.time_ms, b = burst.frames[i].capture.time_ms;
    if (a && b) widest = std::max(widest, static_cast<double>(*b - *a) / 1000);
  }
  const auto& o = bursts_options_;
  return ms(std::max({o.gap_s, o.counted_gap_s, o.gap_factor * widest})) + 1;
}

// Files known, but not in this pass, that might belong into the burst: same camera within reach, a partner
// that names its camera otherwise, or copies.
Tracker::Paths Tracker::neighbours(const Burst& burst) const {
  Paths out;
  const auto consider = [&](const std::string& path, bool fits) {
    if (!fits || selected_.count(path) != 0) return;
    const auto f = files_.find(path);
    if (f != files_.end() && f->second.present) out.insert(path);
  };
  std::int64_t reach = reach_of(burst);
  if (const auto r = reach_.find(burst.camera); r != reach_.end()) reach = std::max(reach, r->second);
  std::set<std::string> stems;
  std::optional<std::int64_t> first, last;
  for (const Frame& frame : burst.frames) {
    for (const FileRef* ref : files_of(frame)) {
      stems.insert(leaf_of(beside_key(ref->path)));
      const auto [from, to] = by_fingerprint_.equal_range(ref->fingerprint);
      for (auto it = from; it != to; ++it)
        consider(it->second, files_.count(it->second) != 0 && files_.at(it->second).size == ref->size);
    }
    if (!frame.capture.time_ms) continue;
    first = std::min(first.value_or(*frame.capture.time_ms), *frame.capture.time_ms);
    last = std::max(last.value_or(*frame.capture.time_ms), *frame.capture.time_ms);
  }
  if (!first) return out;
  for (auto it = by_time_.lower_bound({*first - reach, ""});
       it != by_time_.end() && it->first <= *last + reach; ++it) {
    const File& f = files_.at(it->second);
    consider(it->second,
             f.known->camera == burst.camera || stems.count(leaf_of(beside_key(it->second))) != 0);
  }
  return out;
}

void Tracker::retry(File& f) {
  const int doublings = std::min(f.attempts++, 20);
  f.not_before_ms = pass_ms_ + ms(std::min(kLongestRetry_s, kFirstRetry_s * std::exp2(doublings)));
  f.failing = true;
}

void Tracker::frame_done(const FrameOutcome& frame) {
  const bool unwritten = std::any_of(frame.sidecars.begin(), frame.sidecars.end(),
                                     [](const SidecarLine& s) { return s.change == "failed"; });
  for (const FileRef* ref : files_of(frame.frame)) {
    const auto it = files_.find(ref->path);
    if (it == files_.end()) continue;
    File& f = it->second;
    f.done = true;
    f.failing = !frame.facts.damage.empty();
    if (f.failing && may_mend(ref->path, pass_ms_)) {
      f.done = false;
      f.not_before_ms = f.changed_ms + ms(options_.patience_s);
    } else if (unwritten || failed_.count(ref->path) != 0) {
      retry(f);
      f.done = f.attempts > kMaxAttempts;
    }
  }
}

void Tracker::outcome(const BurstOutcome& burst) {
  const std::int64_t id = ++next_burst_;
  KnownBurst known;
  known.camera = burst.camera;
  std::set<std::int64_t> before;
  Burst shape{burst.camera, {}};
  for (const FrameOutcome& frame : burst.frames) {
    frame_done(frame);
    shape.frames.push_back(frame.frame);
    for (const FileRef* ref : files_of(frame.frame)) {
      const auto it = files_.find(ref->path);
      if (it == files_.end()) continue;
      if (it->second.burst != 0) before.insert(it->second.burst);
      it->second.burst = id;
      known.paths.push_back(ref->path);
    }
  }
  for (const std::int64_t old : before) dissolve(old);
  known.reach_ms = reach_of(shape);
  auto& reach = reach_[burst.camera];
  reach = std::max(reach, known.reach_ms);
  bursts_.emplace(id, std::move(known));
}

void Tracker::failed(const Error& error) {
  if (files_.count(error.file) != 0) failed_.insert(error.file);
}

bool Tracker::end_pass(std::int64_t now_ms, bool whole) {
  if (!whole) return false;
  pass_ms_ = std::max(pass_ms_, now_ms);
  for (const std::string& path : candidates_) {
    const auto it = files_.find(path);
    if (it != files_.end() && held_.count(path) == 0) it->second.recheck = false;
    if (it == files_.end() || offered_.count(path) == 0 || learnt_.count(path) != 0) continue;
    File& f = it->second;
    retry(f);
    f.failing = failed_.count(path) != 0;
    f.done = !f.failing;  // read, and no photograph
  }
  if (deferred_.empty()) return false;
  ++rounds_;
  candidates_.clear();
  for (const std::string& path : deferred_) candidates_.insert(path);
  for (const std::string& path : needed_) {
    select_burst_of(path);
    // What can't be had now must not be asked for again and again.
    selected_.insert(path);
  }
  for (auto* set : {&offered_, &learnt_, &failed_}) set->clear();
  deferred_.clear();
  needed_.clear();
  return true;
}

std::optional<std::int64_t> Tracker::next_due(std::int64_t now_ms) const {
  std::optional<std::int64_t> due;
  for (const auto& [path, f] : files_) {
    if ((f.done && !f.recheck) || !f.present || f.size == 0 || is_temporary_name(path)) continue;
    const std::int64_t at = std::max({f.changed_ms + ms(options_.settle_s), f.not_before_ms, quiet_at(path)});
    due = std::min(due.value_or(at), at);
  }
  if (due) due = std::max<std::int64_t>(0, *due - now_ms);
  return due;
}

std::optional<FileState> Tracker::state_of(const std::string& path, std::int64_t now_ms) const {
  const auto it = files_.find(path);
  if (it == files_.end()) return std::nullopt;
  if (it->second.done) return FileState::culled;
  return settled(it->second, now_ms) ? FileState::ready : FileState::settling;
}

std::vector<std::string> Tracker::waiting() const {
  std::vector<std::string> out;
  for (const auto& [path, f] : files_)
    if (f.present && !f.done && !f.failing && f.size > 0) out.push_back(path);
  std::sort(out.begin(), out.end());
  return out;
}

bool Tracker::nothing_but_failures(std::int64_t now_ms) const {
  return std::all_of(files_.begin(), files_.end(), [&](const auto& e) {
    const File& f = e.second;
    if ((f.done && !f.recheck) || !f.present || f.size == 0 || is_temporary_name(e.first)) return true;
    return f.failing && !may_mend(e.first, now_ms);
  });
}

bool Tracker::may_mend(const std::string& path, std::int64_t now_ms) const {
  const auto it = files_.find(path);
  return !hurry_ && it != files_.end() && now_ms - it->second.changed_ms < ms(options_.patience_s);
}

}  // namespace burstsieve::watch
