#include <algorithm>
#include <array>

#include "burstsieve/subject/finder.h"

namespace burstsieve::subject {
namespace {

constexpr std::array<Finder, 3> kFinders{find_by_af_area, find_by_burst_motion, find_by_focus_energy};
constexpr double kSame = .3;  // overlap above which two boxes mean the same animal
constexpr std::size_t kMost = 4;

// The box of the more confident one: averaging two boxes gives a third that nobody saw.
void merge_into(Subject& kept, const Subject& other) {
  kept.confidence =
      1 - (1 - kept.confidence) * (1 - .7 * other.confidence);  // witnesses are not quite independent
  if (kept.source.find(other.source) == std::string::npos) kept.source += " + " + other.source;
}

}  // namespace

std::vector<Subject> fuse(std::vector<Subject> candidates) {
  std::stable_sort(candidates.begin(), candidates.end(),
                   [](const Subject& a, const Subject& b) { return a.confidence > b.confidence; });
  std::vector<Subject> out;
  for (const Subject& c : candidates) {
    const auto same = std::find_if(out.begin(), out.end(),
                                   [&](const Subject& k) { return overlap(k.box, c.box) >= kSame; });
    if (same != out.end())
      merge_into(*same, c);
    else
      out.push_back(c);
  }
  std::stable_sort(out.begin(), out.end(),
                   [](const Subject& a, const Subject& b) { return a.confidence > b.confidence; });
  if (out.size() > kMost) out.resize(kMost);
  return out;
}

std::vector<Subject> find_subjects(const FinderInput& input) {
  std::vector<Subject> candidates;
  for (const Finder find : kFinders) find(input, candidates);
  return fuse(std::move(candidates));
}

}  // namespace burstsieve::subject
