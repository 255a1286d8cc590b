#include "burstsieve/watch/watcher.h"

#include <fmt/format.h>
#include <sys/stat.h>

#include <algorithm>
#include <cmath>
#include <utility>

#include "burstsieve/base/file_system.h"
#include "burstsieve/base/text.h"
#include "paths.h"

namespace burstsieve::watch {
namespace {

// Share of the time that looking may take: 1 in 20. 50,000 files take .2 s (measured), so 4 s pass between
// looks.
constexpr std::int64_t kLookShare = 20;
constexpr std::int64_t kShortestSleep_ms = 50;

}  // namespace

// Hears one round of pipeline::cull().
class Watcher::Pass final : public pipeline::Listener {
 public:
  Pass(Watcher& w, const std::atomic<bool>& stop) : w_(w), outer_(stop) {}

  void found(const ScanCounts&, std::size_t, std::size_t) override {}

  // The same every round: told once.
  void note(const Error& e) override {
    if (std::exchange(w_.told_[e.file + "\n"], e.text) != e.text) w_.observer_.note(e.line());
  }

  void progress(std::size_t, std::size_t) override {
    if (outer_ || w_.overloaded()) stop_ = true;
  }

  void burst(const BurstOutcome& o) override {
    w_.tracker_.outcome(o);
    ++w_.totals_.bursts;
    w_.totals_.frames += o.frames.size();
    const std::string name = o.frames.front().frame.main().path;
    for (const FrameOutcome& f : o.frames) {
      const std::string& path = f.frame.main().path;
      if (f.facts.damage.empty()) w_.told_.erase(path);
      for (const SidecarLine& s : f.sidecars)
        if (s.change != "failed") w_.told_.erase(s.path);
      if (!f.facts.damage.empty() && gone(path)) continue;
      // A file that may still mend is not news yet.
      if (!f.facts.damage.empty() && w_.tracker_.may_mend(path, w_.around_.clock.steady_ms())) continue;
      if (!f.facts.damage.empty()) w_.tell({Cause::corrupt, path, f.facts.damage}, false);
      Ledger* ledger = w_.ledger_of(path);
      if (ledger == nullptr) continue;
      const std::int64_t now = w_.around_.clock.now_ms();
      w_.keep(ledger->frame(f, name, now, o.camera));
      if (!f.facts.damage.empty()) w_.keep(ledger->failure(path, f.facts.damage, now));
    }
    w_.observer_.burst(o);
  }

  void error(const Error& e) override {
    w_.tracker_.failed(e);
    if (folder_lost(e)) {
      stop_ = true;  // every other frame would fail alike
      return;
    }
    if (e.cause == Cause::io && gone(e.file)) return;
    // Damage is told with the burst; of a file that may still mend only when it does not.
    if (w_.tracker_.may_mend(e.file, w_.around_.clock.steady_ms())) return;
    if (e.cause != Cause::corrupt || !gone(e.file)) w_.tell(e, e.cause != Cause::corrupt);
  }

  // Ends the round early.
  const std::atomic<bool>* stop_flag() const { return &stop_; }
  bool stopped() const { return stop_; }

 private:
  bool folder_lost(const Error& e) const {
    return std::any_of(w_.present_.begin(), w_.present_.end(), [&](const std::string& place) {
      return below(e.file, place) && !w_.around_.exists(place);
    });
  }
  // Deleted or renamed between the look and the pass: no failure, the next look sees it.
  bool gone(const std::string& path) const {
    return w_.tracker_.state_of(path, 0).has_value() && !w_.around_.exists(path);
  }

  Watcher& w_;
  const std::atomic<bool>& outer_;
  std::atomic<bool> stop_{false};
};

Watcher::Watcher(WatchOptions options, pipeline::CullOptions cull, Surroundings surroundings,
                 Observer& observer)
    : options_(options),
      cull_(std::move(cull)),
      around_(std::move(surroundings)),
      observer_(observer),
      tracker_(options, cull_.bursts) {
  for (std::string& place : cull_.places)
    while (place.size() > 1 && place.back() == '/') place.pop_back();
}

Ledger* Watcher::ledger_of(const std::string& path) {
  if (around_.ledgers == nullptr) return nullptr;
  for (auto& [place, ledger] : *around_.ledgers)
    if (below(path, place)) return &ledger;
  return nullptr;
}

// A ledger that can't be written costs the summary, not the culling.
void Watcher::keep(const Status& status) {
  if (!status) tell(status.error(), false);
}

void Watcher::tell(const Error& error, bool final) {
  const auto [it, fresh] = told_.try_emplace(error.file, error.text);
  if (!fresh && it->second == error.text) return;
  it->second = error.text;
  ++totals_.errors;
  observer_.error(error);
  Ledger* ledger = final ? ledger_of(error.file) : nullptr;
  if (ledger != nullptr) keep(ledger->failure(error.file, error.text, around_.clock.now_ms()));
}

void Watcher::look() {
  const std::int64_t before = around_.clock.steady_ms();
  const Listing listing = around_.lister.list(cull_.places);
  ++totals_.looks;
  note_folders(listing);
  tracker_.observe(listing, around_.clock.steady_ms());
  around_.waker.cover(listing.folders);
  if (around_.ledgers != nullptr) note_gone(listing);
  look_cost_ms_ = around_.clock.steady_ms() - before;
  first_look_ = false;
}

void Watcher::note_folders(const Listing& listing) {
  std::set<std::string> away;
  for (const Error& e : listing.errors) {
    away.insert(e.file);
    if (away_.count(e.file) != 0) continue;
    const bool place = std::find(cull_.places.begin(), cull_.places.end(), e.file) != cull_.places.end();
    if (place)
      observer_.note(fmt::format("{}: not there ({}); waiting for it", one_line(e.file), one_line(e.text)));
    else
      tell(e, true);
  }
  for (const std::string& folder : away_)
    if (away.count(folder) == 0) {
      told_.erase(folder);
      observer_.note(one_line(folder) + ": there again");
    }
  away_ = std::move(away);
  present_.clear();
  for (const std::string& place : cull_.places)
    if (away_.count(place) == 0) present_.push_back(place);
}

// Frames that the ledger counts and that are no longer there, from the last watcher's time or from ours.
void Watcher::note_gone(const Listing& listing) {
  std::set<std::string> now;
  for (const FileSeen& f : listing.files) now.insert(f.path);
  const auto unknown = [&](const std::string& path) {
    return std::any_of(away_.begin(), away_.end(), [&](const std::string& a) { return below(path, a); });
  };
  std::vector<std::string> gone;
  if (first_look_) {
    std::set<std::string> names;
    for (const FileSeen& f : listing.files) names.insert(one_line(f.path));
    for (auto& [place, ledger] : *around_.ledgers)
      for (std::string& file : ledger.files())
        if (names.count(file) == 0) gone.push_back(std::move(file));
  } else {
    std::set_difference(listed_.begin(), listed_.end(), now.begin(), now.end(), std::back_inserter(gone));
  }
  for (const std::string& path : gone) {
    if (unknown(path)) {
      now.insert(path);  // not known to be gone
      continue;
    }
    told_.erase(path);
    if (Ledger* ledger = ledger_of(path)) keep(ledger->gone(path, around_.clock.now_ms()));
  }
  listed_ = std::move(now);
}

bool Watcher::overloaded() {
  if (around_.max_load <= 0 || !around_.load) return false;
  const auto load = around_.load();
  const bool high = load && *load > around_.max_load;
  if (high && !busy_told_)
    observer_.note(fmt::format("load {:.1f} is above {:.1f}: waiting", *load, around_.max_load));
  busy_told_ = high;
  return high;
}

bool Watcher::one_round(const std::atomic<bool>& stop) {
  Pass pass(*this, stop);
  pipeline::CullOptions options = cull_;
  options.places = present_;
  options.file_ready = [this](const std::string& path, std::uint64_t size, std::int64_t mtime_ns) {
    return tracker_.file_ready(path, size, mtime_ns);
  };
  options.burst_ready = [this](const Burst& burst) { return tracker_.burst_ready(burst); };
  const auto summary = around_.cull(options, pass, pass.stop_flag());
  if (!summary) {
    tell(summary.error(), false);
    const double pause = std::min(kLongestRetry_s, kFirstRetry_s * std::exp2(std::min(failed_passes_++, 20)));
    not_before_ms_ = around_.clock.steady_ms() + std::llround(pause * 1000);
    return false;
  }
  failed_passes_ = 0;
  return !pass.stopped();
}

bool Watcher::work(bool hurry, const std::atomic<bool>& stop) {
  const std::int64_t now = around_.clock.steady_ms();
  if (present_.empty() || (!hurry && now < not_before_ms_) || stop) return false;
  if (!tracker_.begin_pass(now, hurry) || overloaded()) return false;
  ++totals_.passes;
  bool whole = true;
  do whole = one_round(stop);
  while (tracker_.end_pass(around_.clock.steady_ms(), whole));
  if (around_.ledgers != nullptr)
    for (auto& [place, ledger] : *around_.ledgers) keep(ledger.sync());
  return whole;
}

void Watcher::sleep(std::int64_t longest_ms) {
  const std::int64_t now = around_.clock.steady_ms();
  std::int64_t until = std::llround(options_.poll_s * 1000);
  if (auto due = tracker_.next_due(now)) until = std::min(until, std::max(*due, not_before_ms_ - now));
  until = std::max({until, kShortestSleep_ms, kLookShare * look_cost_ms_});
  around_.waker.wait(std::min(until, longest_ms));
  // Woken early by a flood of events: some rest between two looks there must be.
  const std::int64_t slept = around_.clock.steady_ms() - now;
  const std::int64_t least = std::max(kShortestSleep_ms, kLookShare * look_cost_ms_);
  if (slept < least && slept < longest_ms) around_.waker.wait(std::min(least, longest_ms) - slept);
}

WatchTotals Watcher::run(const std::atomic<bool>& stop) {
  while (!stop) {
    look();
    if (!work(false, stop) && !stop) sleep(std::llround(options_.poll_s * 1000));
  }
  return totals_;
}

WatchTotals Watcher::run_once(const std::atomic<bool>& stop, std::int64_t max_wait_ms) {
  const std::int64_t deadline = around_.clock.steady_ms() + max_wait_ms;
  while (!stop) {
    look();
    if (work(false, stop)) continue;
    const std::int64_t now = around_.clock.steady_ms();
    if (tracker_.nothing_but_failures(now) || now >= deadline || stop) break;
    sleep(deadline - now);
  }
  if (!stop && !tracker_.nothing_but_failures(around_.clock.steady_ms())) work(true, stop);
  totals_.left = tracker_.waiting();
  return totals_;
}

}  // namespace burstsieve::watch
