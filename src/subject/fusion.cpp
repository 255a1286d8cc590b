#include <algorithm>
#include <array>
#include <cmath>
#include <string>
#include <utility>

#include "burstsieve/subject/finder.h"

namespace burstsieve::subject {
namespace {

constexpr std::array<Finder, 4> kFinders{find_by_detector, find_by_af_area, find_by_burst_motion,
                                         find_by_focus_energy};
constexpr double kSame = .3;  // overlap above which two boxes mean the same animal
constexpr std::size_t kMost = 4;
// What lies in a detector's box by this share vouches for it, unless the box is most of the frame.
constexpr double kInside = .7, kMostOfTheFrame = .6;

bool by_detector(const Subject& s) {
  return s.source.starts_with(kDetectorSource);
}

bool mean_the_same(const Subject& kept, const Subject& other) {
  if (by_detector(kept) && by_detector(other)) return false;  // it told them apart
  if (overlap(kept.box, other.box) >= kSame) return true;
  return by_detector(kept) && kept.box.area() <= kMostOfTheFrame &&
         share_inside(other.box, kept.box) >= kInside;
}

// What each finder's word means, where it named the box and where it agrees with another's.
struct Words {
  const char* source;
  const char* alone;
  const char* agreeing;
};
constexpr std::array kWords{
    Words{kDetectorSource, "seen by the detector", "the detector sees an animal there"},
    Words{"AF area", "detail about the camera's focus area", "the camera's focus area lies in it"},
    Words{"burst motion", "it moves against the background", "it moves against the background"},
    Words{"focus energy", "the most fine detail is there", "fine detail stands out in it"}};

std::string words_of(const std::string& source, const char* Words::*which) {
  for (const Words& w : kWords)
    if (source == w.source) return w.*which;
  return source;
}

std::string hundredths(double confidence) {
  const int n = std::clamp(static_cast<int>(std::lround(confidence * 100)), 0, 100);
  return n == 100 ? "1" : "." + std::to_string(n / 10) + std::to_string(n % 10);
}

// Why the first is the first, and the others are not.
void say_the_order(std::vector<Subject>& subjects) {
  for (std::size_t i = 0; i < subjects.size(); ++i) {
    std::string& why = subjects[i].why;
    if (i > 0)
      why += "; less sure than the first (" + hundredths(subjects[i].confidence) + " to " +
             hundredths(subjects[0].confidence) + ")";
    else if (subjects.size() > 1)
      why += "; the surest of " + std::to_string(subjects.size()) + " (" +
             hundredths(subjects[0].confidence) + ")";
  }
}

// The box of the detector or else of the more confident one: averaging two gives a third that nobody saw.
void merge_into(Subject& kept, const Subject& other) {
  kept.confidence =
      1 - (1 - kept.confidence) * (1 - .7 * other.confidence);  // witnesses are not quite independent
  if (kept.source.find(other.source) != std::string::npos) return;
  kept.source += " + " + other.source;
  kept.why += ", " + words_of(other.source, &Words::agreeing);
}

}  // namespace

std::vector<Subject> fuse(std::vector<Subject> candidates) {
  std::stable_sort(candidates.begin(), candidates.end(),
                   [](const Subject& a, const Subject& b) { return a.confidence > b.confidence; });
  std::stable_partition(candidates.begin(), candidates.end(), by_detector);
  for (Subject& c : candidates)
    if (c.why.empty()) c.why = words_of(c.source, &Words::alone);
  std::vector<Subject> out;
  for (const Subject& c : candidates) {
    const auto same =
        std::find_if(out.begin(), out.end(), [&](const Subject& k) { return mean_the_same(k, c); });
    if (same != out.end())
      merge_into(*same, c);
    else
      out.push_back(c);
  }
  std::stable_sort(out.begin(), out.end(),
                   [](const Subject& a, const Subject& b) { return a.confidence > b.confidence; });
  if (out.size() > kMost) out.resize(kMost);
  say_the_order(out);
  return out;
}

std::vector<Subject> find_subjects(const FinderInput& input) {
  std::vector<Subject> candidates;
  for (const Finder find : kFinders) find(input, candidates);
  return fuse(std::move(candidates));
}

}  // namespace burstsieve::subject
