#include "burstsieve/watch/summary.h"

#include <fmt/format.h>

#include <algorithm>
#include <map>
#include <utility>

#include "burstsieve/base/durable.h"

namespace burstsieve::watch {
namespace {

// What is true of a frame before and after the lines in between.
struct Standing {
  const LedgerLine* before = nullptr;
  const LedgerLine* now = nullptr;
};

class Fold {
 public:
  explicit Fold(std::int64_t told) : told_(told) {}

  void add(const LedgerLine& line) {
    if (line.kind == LedgerLine::Kind::failure) {
      if (line.number > told_) failures_[line.path] = line.why;
      return;
    }
    drop(line.path, line);
    if (line.kind == LedgerLine::Kind::gone) {
      failures_.erase(line.path);
      return;
    }
    for (const std::string& f : line.files) {
      const auto main = main_of_.find(f);
      if (main != main_of_.end()) drop(std::string(main->second), line);
    }
    Standing& s = frames_[line.path];
    if (line.number <= told_) s.before = &line;
    s.now = &line;
    for (const std::string& f : line.files) {
      main_of_[f] = line.path;
      failures_.erase(f);  // a failure that still stands has its line after this one
    }
  }

  const std::map<std::string, Standing>& frames() const { return frames_; }
  const std::map<std::string, std::string>& failures() const { return failures_; }

 private:
  // The frame of this name is gone, or takes another shape (a JPEG whose raw came later).
  void drop(const std::string& main, const LedgerLine& because) {
    const auto it = frames_.find(main);
    if (it == frames_.end()) return;
    if (it->second.now)
      for (const std::string& f : it->second.now->files) main_of_.erase(f);
    const bool same_name = because.kind == LedgerLine::Kind::frame && because.path == main;
    if (it->second.before && because.number > told_) {
      it->second.now = nullptr;
      if (!same_name && because.kind == LedgerLine::Kind::frame) {
        // Told under this name; its new name is no arrival.
        frames_[because.path].before = it->second.before;
        frames_.erase(main);
      }
      return;
    }
    frames_.erase(it);
  }

  std::int64_t told_;
  std::map<std::string, Standing> frames_;
  std::map<std::string, std::string> main_of_;
  std::map<std::string, std::string> failures_;
};

void count(const Standing& s, report::SummaryFolder& c) {
  if (s.before && !s.now) ++c.gone;
  if (s.before && s.now)
    c.revised += s.before->verdict != s.now->verdict || s.before->rating != s.now->rating;
  if (s.before || !s.now) return;
  ++c.frames;
  c.files += s.now->files.size();
  c.keep += s.now->verdict == "keep";
  c.reject += s.now->verdict == "reject";
  c.undecided += s.now->verdict == "undecided";
}

bool better(const LedgerLine* a, const LedgerLine* b) {
  if (a->rating != b->rating) return a->rating.value_or(0) > b->rating.value_or(0);
  return a->path < b->path;
}

// The best of every burst before the second best of any.
std::vector<report::SummaryKeeper> in_turns(std::map<std::string, std::vector<const LedgerLine*>> bursts) {
  std::vector<report::SummaryKeeper> out;
  std::size_t longest = 0;
  for (auto& [name, lines] : bursts) {
    std::sort(lines.begin(), lines.end(), better);
    longest = std::max(longest, lines.size());
  }
  for (std::size_t turn = 0; turn < longest; ++turn) {
    std::vector<const LedgerLine*> row;
    for (const auto& [name, lines] : bursts)
      if (turn < lines.size()) row.push_back(lines[turn]);
    std::sort(row.begin(), row.end(), better);
    for (const LedgerLine* l : row) out.push_back({l->path, l->burst, l->why, l->rating, {}});
  }
  return out;
}

// A burst's frames in the order of their names, which the map gives.
std::vector<report::BurstLight> lights(const std::map<std::string, std::vector<const LedgerLine*>>& bursts) {
  std::vector<report::BurstLight> out;
  for (const auto& [name, lines] : bursts) {
    std::vector<report::FrameLight> frames;
    const LedgerLine* first = nullptr;
    for (const LedgerLine* l : lines) {
      if (!l->light) continue;
      frames.push_back(*l->light);
      if (!first || (l->time_ms && first->time_ms && *l->time_ms < *first->time_ms)) first = l;
    }
    auto light = report::burst_light(frames);
    if (!light) continue;
    light->camera = first->camera;
    light->time_ms = first->time_ms;
    light->utc_offset_minutes = first->utc_offset_minutes;
    out.push_back(std::move(*light));
  }
  return out;
}

Status put(FileSystem& fs, const std::string& path, const std::string& text) {
  return durable_replace(fs, path, Bytes(reinterpret_cast<const std::uint8_t*>(text.data()), text.size()),
                         {});
}

}  // namespace

bool FolderNews::nothing() const {
  return counts.frames == 0 && counts.revised == 0 && counts.gone == 0 && failures.empty();
}

FolderNews news_of(const std::vector<LedgerLine>& lines, std::int64_t told) {
  Fold fold(told);
  FolderNews out;
  for (const LedgerLine& line : lines) {
    fold.add(line);
    out.last = std::max(out.last, line.number);
  }
  std::map<std::string, std::vector<const LedgerLine*>> bursts, keepers;
  for (const auto& [path, s] : fold.frames()) {
    count(s, out.counts);
    if (s.before || !s.now) continue;
    bursts[s.now->burst].push_back(s.now);
    if (s.now->verdict == "keep") keepers[s.now->burst].push_back(s.now);
  }
  out.counts.bursts = bursts.size();
  out.light = lights(bursts);
  out.keepers = in_turns(std::move(keepers));
  for (const auto& [file, reason] : fold.failures()) out.failures.push_back({file, reason});
  return out;
}

report::MorningSummary joined(std::vector<FolderNews> news, const SummaryLimits& limits, Catalog* catalog) {
  report::MorningSummary out;
  std::size_t all = 0, longest = 0, bytes = 0;
  std::vector<report::BurstLight> light;
  for (FolderNews& n : news) {
    out.folders.push_back(std::move(n.counts));
    for (auto& f : n.failures) out.failures.push_back(std::move(f));
    light.insert(light.end(), n.light.begin(), n.light.end());
    all += n.keepers.size();
    longest = std::max(longest, n.keepers.size());
  }
  for (std::size_t turn = 0; turn < longest && out.keepers.size() < limits.keepers; ++turn)
    for (FolderNews& n : news)
      if (turn < n.keepers.size() && out.keepers.size() < limits.keepers)
        out.keepers.push_back(std::move(n.keepers[turn]));
  out.more_keepers = all - out.keepers.size();
  out.light = report::light_drift(std::move(light));
  for (report::SummaryKeeper& k : out.keepers) {
    if (catalog == nullptr) break;
    auto known = catalog->explain(k.path);
    if (!known || !known->facts || bytes + known->facts->thumbnail.size() > limits.thumbnail_bytes) continue;
    k.thumbnail = std::move(known->facts->thumbnail);
    bytes += k.thumbnail.size();
  }
  return out;
}

Result<std::string> write_summary(const report::MorningSummary& s, const std::string& folder,
                                  FileSystem& fs) {
  if (auto made = make_folders(fs, folder, 0700); !made) return made.error();
  std::string base = folder + "/" + s.date;
  for (int n = 2;; ++n) {
    bool taken = false;
    for (const char* suffix : {".txt", ".html", ".json"}) {
      const auto there = fs.stat(base + suffix);
      if (!there) return there.error();
      taken = taken || *there;
    }
    if (!taken) break;
    base = fmt::format("{}/{}-{}", folder, s.date, n);
  }
  if (auto done = put(fs, base + ".txt", morning_text(s)); !done) return done.error();
  if (auto done = put(fs, base + ".html", summary_page(s)); !done) return done.error();
  if (auto done = put(fs, base + ".json", morning_json(s)); !done) return done.error();
  return base;
}

}  // namespace burstsieve::watch
