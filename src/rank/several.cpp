#include "burstsieve/rank/several.h"

#include <algorithm>
#include <array>
#include <cstddef>

#include "burstsieve/base/text.h"
#include "burstsieve/rank/policy.h"

namespace burstsieve::rank {
namespace {

constexpr double kCirclePx = 2;  // of the depth of field at 100 %
constexpr double kSure = .3;     // confidence of a blur below which the words say so

// Subjects by their place in the frame's list.
struct Known {
  std::size_t subject = 0;
  double blur = 0;  // px
  bool sure = true;
};

std::vector<Known> known_blurs(const FrameFacts& facts) {
  std::vector<Known> out;
  for (std::size_t i = 0; i < facts.subjects.size(); ++i)
    if (const Measure* blur = find(facts.subjects[i].measures, "blur_sigma_px"))
      out.push_back({i, blur->value, blur->confidence >= kSure});
  return out;
}

// Below kSharpAsCanBe differences are texture, not focus.
double felt(double blur) {
  return std::max(blur, kSharpAsCanBe);
}

std::string ordinal(std::size_t i) {
  static constexpr std::array words{"first", "second", "third", "fourth", "fifth", "sixth"};
  return i < words.size() ? words[i] : std::to_string(i + 1) + "th";
}

std::string against_first(const Known& one, const Known& first) {
  const std::string name = "the " + ordinal(one.subject) + " ", px = fixed(one.blur, 1) + " px";
  const double ratio = felt(one.blur) / felt(first.blur);
  const std::string base = "the " + ordinal(first.subject);
  if (ratio >= kSameDepth) return name + px + " soft, " + fixed(ratio, 1) + " times " + base;
  if (ratio <= 1 / kSameDepth)
    return name + "sharper, " + px + " against " + fixed(first.blur, 1) + " px of " + base;
  return name + "as sharp as " + base + " (" + px + ")";
}

}  // namespace

SeveralSubjects several_subjects(const FrameFacts& facts) {
  SeveralSubjects out;
  out.depth.assign(facts.subjects.size(), 0);
  out.inside.assign(facts.subjects.size(), InDepth::too_close_to_tell);
  const std::vector<Known> known = known_blurs(facts);
  out.count = static_cast<int>(known.size());
  if (known.empty()) return out;
  std::vector<Known> sorted = known;
  std::stable_sort(sorted.begin(), sorted.end(),
                   [](const Known& a, const Known& b) { return a.blur < b.blur; });
  int depth = 1;
  const double in_focus = felt(sorted.front().blur);
  double sharpest = in_focus;
  for (const Known& k : sorted) {
    // What focus is measured by is in it.
    const bool reference = k.subject == sorted.front().subject;
    out.inside[k.subject] =
        reference ? InDepth::inside : inside_depth_of_field(felt(k.blur), in_focus, kCirclePx);
    if (felt(k.blur) >= kSameDepth * sharpest) ++depth, sharpest = felt(k.blur);
    out.depth[k.subject] = depth;
  }
  if (known.size() < 2) return out;
  out.text = std::to_string(known.size()) + " subjects: ";
  for (std::size_t i = 1; i < known.size(); ++i)
    out.text +=
        (i > 1 ? ", " : "") + against_first(known[i], known.front()) + (known[i].sure ? "" : " (unsure)");
  return out;
}

}  // namespace burstsieve::rank
