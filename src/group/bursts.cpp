#include "burstsieve/group/bursts.h"

#include <algorithm>
#include <cmath>
#include <cstdlib>
#include <map>
#include <string>

#include "burstsieve/base/text.h"

namespace burstsieve::group {
namespace {

constexpr int kDcfCount = 9999;
// Frames deleted in the camera leave holes; a jump beyond this is another run of the counter.
constexpr int kSameRun = 200;

std::optional<std::uint32_t> number_of(const Frame& f) {
  if (f.capture.file_number && *f.capture.file_number >= 1 && *f.capture.file_number <= kDcfCount)
    return f.capture.file_number;
  return number_in_name(f.main().path);
}

bool by_number_then_path(const Frame& a, const Frame& b) {
  const auto x = number_of(a), y = number_of(b);
  if (x && y && *x != *y) return *x < *y;
  if (x.has_value() != y.has_value()) return x.has_value();
  return a.main().path < b.main().path;
}

// Orders frames by their running number across the roll-over: the largest hole in the used numbers is where
// the counter came from.
void sort_by_counter(std::vector<Frame>::iterator first, std::vector<Frame>::iterator last) {
  const bool all_counted =
      std::all_of(first, last, [](const Frame& f) { return f.capture.shutter_count.has_value(); });
  if (all_counted) {
    std::stable_sort(first, last, [](const Frame& a, const Frame& b) {
      return *a.capture.shutter_count < *b.capture.shutter_count;
    });
    const bool distinct = std::adjacent_find(first, last, [](const Frame& a, const Frame& b) {
                            return a.capture.shutter_count == b.capture.shutter_count;
                          }) == last;
    if (distinct) return;
  }
  std::stable_sort(first, last, by_number_then_path);
  auto start = first;
  int widest = 0;
  for (auto it = first; it + 1 < last; ++it) {
    const auto a = number_of(*it), b = number_of(*(it + 1));
    if (!a || !b) return;
    const int hole = static_cast<int>(*b) - static_cast<int>(*a);
    if (hole > widest) widest = hole, start = it + 1;
  }
  if (widest > kDcfCount / 2) std::rotate(first, start, last);
}

void sort_in_time(std::vector<Frame>& frames) {
  std::sort(frames.begin(), frames.end(), [](const Frame& a, const Frame& b) {
    if (a.capture.time_ms != b.capture.time_ms) return a.capture.time_ms < b.capture.time_ms;
    return a.main().path < b.main().path;
  });
  for (auto first = frames.begin(); first != frames.end();) {
    const auto last = std::find_if(
        first, frames.end(), [&](const Frame& f) { return f.capture.time_ms != first->capture.time_ms; });
    if (last - first > 1) sort_by_counter(first, last);
    first = last;
  }
}

// Whether this camera's sequence numbers count: many bodies write a constant.
bool sequence_counts(const std::vector<Frame>& frames) {
  return std::any_of(frames.begin(), frames.end(),
                     [](const Frame& f) { return f.capture.sequence_number.value_or(0) >= 2; });
}

class MedianInterval {
 public:
  void add(double seconds) {
    sorted_.insert(std::upper_bound(sorted_.begin(), sorted_.end(), seconds), seconds);
  }
  double value() const { return sorted_.empty() ? 0 : sorted_[sorted_.size() / 2]; }
  void clear() { sorted_.clear(); }

 private:
  std::vector<double> sorted_;
};

bool continues(const Frame& before, const Frame& now, double pause, double median, bool counted,
               const BurstOptions& o) {
  const bool in_time = pause <= std::max(o.gap_s, o.gap_factor * median);
  const auto a = before.capture.sequence_number, b = now.capture.sequence_number;
  if (counted && a && b) {
    if (*b == *a + 1) return pause <= o.counted_gap_s;
    if (*b <= *a) return false;  // the counter started over
  }
  return in_time;
}

// Two runs of file numbers laid over each other in time are two bursts (the clock was set back, or two bodies
// of one model record no serial).
std::vector<std::vector<Frame>> split_runs(std::vector<Frame> frames) {
  std::vector<std::vector<Frame>> runs;
  for (Frame& f : frames) {
    const auto n = number_of(f);
    const auto fits = std::find_if(runs.begin(), runs.end(), [&](const std::vector<Frame>& run) {
      const auto m = number_of(run.back());
      return !n || !m || std::abs(dcf_steps(*m, *n)) <= kSameRun;
    });
    if (fits != runs.end())
      fits->push_back(std::move(f));
    else
      runs.emplace_back().push_back(std::move(f));
  }
  return runs;
}

void bursts_of_camera(const std::string& camera, std::vector<Frame> frames, const BurstOptions& options,
                      std::vector<Burst>& out) {
  sort_in_time(frames);
  const bool counted = sequence_counts(frames);
  std::vector<Frame> current;
  MedianInterval median;
  const auto close = [&] {
    if (current.empty()) return;
    for (auto& run : split_runs(std::move(current))) out.push_back({camera, std::move(run)});
    current.clear();
    median.clear();
  };
  for (Frame& f : frames) {
    if (!current.empty()) {
      const Frame& before = current.back();
      const bool timed = before.capture.time_ms && f.capture.time_ms;
      const double pause =
          timed ? static_cast<double>(*f.capture.time_ms - *before.capture.time_ms) / 1000 : 0;
      if (!timed || !continues(before, f, pause, median.value(), counted, options))
        close();
      else
        median.add(pause);
    }
    current.push_back(std::move(f));
  }
  close();
}

}  // namespace

Status BurstOptions::check() const {
  if (!(gap_s > 0 && std::isfinite(gap_s)))
    return Error{Cause::unsupported, {}, "burst gap must be more than 0 s"};
  if (!(gap_factor >= 1 && std::isfinite(gap_factor)))
    return Error{Cause::unsupported, {}, "burst gap factor must be at least 1"};
  if (!(counted_gap_s >= gap_s))
    return Error{Cause::unsupported, {}, "counted burst gap must be at least the burst gap"};
  return Done{};
}

std::string camera_name(const Capture& c) {
  std::string name = c.model;
  if (name.empty()) name = c.make;
  const bool repeats = !c.make.empty() && lower_ascii(name).starts_with(
                                              lower_ascii(c.make).substr(0, lower_ascii(c.make).find(' ')));
  if (!c.make.empty() && !repeats) name = c.make + " " + name;
  if (name.empty()) name = "unknown camera";
  if (!c.serial.empty()) name += " #" + c.serial;
  return name;
}

std::optional<std::uint32_t> number_in_name(std::string_view path) {
  const auto slash = path.rfind('/');
  if (slash != std::string_view::npos) path.remove_prefix(slash + 1);
  if (const auto dot = path.rfind('.'); dot != std::string_view::npos) path = path.substr(0, dot);
  const auto digit = [](char c) { return c >= '0' && c <= '9'; };
  std::size_t end = path.size();
  while (end > 0 && !digit(path[end - 1])) --end;
  std::size_t begin = end;
  while (begin > 0 && digit(path[begin - 1])) --begin;
  if (begin == end || end - begin > 5) return std::nullopt;
  return static_cast<std::uint32_t>(
      std::strtoul(std::string(path.substr(begin, end - begin)).c_str(), nullptr, 10));
}

int dcf_steps(std::uint32_t from, std::uint32_t to) {
  int steps = (static_cast<int>(to % kDcfCount) - static_cast<int>(from % kDcfCount)) % kDcfCount;
  if (steps > kDcfCount / 2) steps -= kDcfCount;
  if (steps < -kDcfCount / 2) steps += kDcfCount;
  return steps;
}

std::vector<Burst> form_bursts(std::vector<Frame> frames, const BurstOptions& options) {
  std::map<std::string, std::vector<Frame>> cameras;
  std::vector<Burst> out;
  for (Frame& f : frames) {
    const std::string camera = camera_name(f.capture);
    if (f.capture.time_ms)
      cameras[camera].push_back(std::move(f));
    else
      out.push_back({camera, {}}), out.back().frames.push_back(std::move(f));
  }
  for (auto& [camera, taken] : cameras) bursts_of_camera(camera, std::move(taken), options, out);
  std::sort(out.begin(), out.end(), [](const Burst& a, const Burst& b) {
    const Frame &x = a.frames.front(), &y = b.frames.front();
    if (x.capture.time_ms != y.capture.time_ms) return x.capture.time_ms < y.capture.time_ms;
    if (a.camera != b.camera) return a.camera < b.camera;
    return x.main().path < y.main().path;
  });
  return out;
}

}  // namespace burstsieve::group
