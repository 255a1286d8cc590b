#include "check.h"

#include <algorithm>
#include <utility>

#include "burstsieve/base/file_system.h"

namespace burstsieve::subject_check {
namespace {

Score& score_for(Check& check, const std::string& source) {
  for (Scored& s : check.finders)
    if (s.source == source) return s.score;
  return check.finders.emplace_back(Scored{source, {}}).score;
}

// True when the first subject is right.
bool count(Check& out, const Looked& looked, const std::vector<Region>& truth, const std::string& name) {
  for (const Answer& a : looked.answers) add(score_for(out, a.source), truth, a.boxes);
  std::vector<Subject> first = looked.answers.back().boxes;
  if (first.size() > 1) first.resize(1);
  Score& score = score_for(out, kFirst);
  const int before = score.animals.hit;
  add_first(score, truth, first);
  if (truth.empty()) return first.empty();
  if (score.animals.hit == before) out.missed.push_back(name);
  return score.animals.hit > before;
}

}  // namespace

Result<Check> check(const std::string& folder, const std::string& truth_path, const CheckOptions& options) {
  RealFileSystem files;
  const auto bytes = files.read_file(truth_path, kMostTruthBytes);
  if (!bytes) return bytes.error();
  const TruthFile truth =
      parse_truth({reinterpret_cast<const char*>(bytes->data()), bytes->size()}, truth_path);
  Check out;
  out.errors = truth.errors;
  out.credits = truth.credits;
  for (const TruthLine& line : truth.pictures) {
    auto looked = look_at(folder + "/" + line.name, {options.detectors, {}, options.view});
    if (!looked) {
      out.errors.push_back(
          {looked.error().cause, truth_path + ":" + std::to_string(line.line), looked.error().line()});
      continue;
    }
    const auto boxes = regions_of(line, looked->width, looked->height, truth_path);
    if (!boxes) {
      out.errors.push_back(boxes.error());
      continue;
    }
    ++out.pictures;
    const bool right = count(out, *looked, *boxes, line.name);
    if (options.view > 0) out.shown.push_back({line.name, *boxes, std::move(*looked), right});
  }
  return out;
}

const Score* score_of(const Check& check, const std::string& source) {
  for (const Scored& s : check.finders)
    if (s.source == source) return &s.score;
  return nullptr;
}

}  // namespace burstsieve::subject_check
