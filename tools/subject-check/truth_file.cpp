#include "truth_file.h"

#include <fmt/format.h>

#include <charconv>
#include <cmath>
#include <map>
#include <optional>
#include <utility>

#include "burstsieve/base/text.h"

namespace burstsieve::subject_check {

const char* const kTruthFormat =
    "Truth file: plain text, one line for each picture:\n"
    "  name  x y w h  [x y w h ...]   one box for each animal: left, top, width, height in pixels of the\n"
    "                                 upright picture (as a viewer shows it), 0 0 = its upper left corner\n"
    "  name  none                     a picture without an animal\n"
    "The name is a path below the folder of pictures; it ends at the first tab or pair of blanks, or, where\n"
    "there is none, at the first blank. Empty lines and lines that begin with # say nothing, but\n"
    "\"# credit: TEXT\" puts TEXT under the report page.";

namespace {

constexpr std::string_view kBlank = " \t\r";

// Splits the name from the rest.
std::pair<std::string, std::string_view> name_and_rest(std::string_view line) {
  std::size_t end = std::min(line.find('\t'), line.find("  "));
  if (end == std::string_view::npos) end = line.find(' ');
  if (end == std::string_view::npos) return {std::string(line), {}};
  return {std::string(line.substr(0, end)), line.substr(end)};
}

std::vector<std::string_view> words_of(std::string_view text) {
  std::vector<std::string_view> out;
  for (std::size_t at = 0; (at = text.find_first_not_of(kBlank, at)) != std::string_view::npos;) {
    const std::size_t end = std::min(text.find_first_of(kBlank, at), text.size());
    out.push_back(text.substr(at, end - at));
    at = end;
  }
  return out;
}

std::optional<double> number_in(std::string_view word) {
  double value = 0;
  const auto [end, problem] = std::from_chars(word.data(), word.data() + word.size(), value);
  if (problem != std::errc{} || end != word.data() + word.size() || !std::isfinite(value)) return {};
  return value;
}

// What is wrong with the words after the name; empty when `boxes` got them.
std::string read_boxes(const std::vector<std::string_view>& words, std::vector<PixelBox>& boxes) {
  if (words.empty()) return "neither boxes nor \"none\" after the name";
  if (words.size() == 1 && words[0] == "none") return {};
  std::vector<double> numbers;
  for (const auto word : words) {
    const auto value = number_in(word);
    if (!value) return fmt::format("'{}' is no number", one_line(word));
    numbers.push_back(*value);
  }
  if (numbers.size() % 4 != 0) return fmt::format("{} numbers: a box needs four (x y w h)", numbers.size());
  for (std::size_t i = 0; i < numbers.size(); i += 4) {
    const PixelBox box{numbers[i], numbers[i + 1], numbers[i + 2], numbers[i + 3]};
    if (box.w <= 0 || box.h <= 0) return fmt::format("box {} has no area", i / 4 + 1);
    boxes.push_back(box);
  }
  return {};
}

}  // namespace

TruthFile parse_truth(std::string_view text, const std::string& path) {
  constexpr std::string_view kCredit = "# credit:";
  TruthFile out;
  std::map<std::string, int> seen;
  if (text.starts_with("\xEF\xBB\xBF")) text.remove_prefix(3);  // some editors begin a file so
  for (int number = 1; !text.empty(); ++number) {
    const std::size_t end = text.find('\n');
    const std::string line = trimmed(text.substr(0, end));
    text.remove_prefix(end == std::string_view::npos ? text.size() : end + 1);
    if (line.starts_with(kCredit)) out.credits.push_back(trimmed(line.substr(kCredit.size())));
    if (line.empty() || line.front() == '#') continue;
    auto [name, rest] = name_and_rest(line);
    TruthLine picture{number, std::move(name), {}};
    std::string wrong = read_boxes(words_of(rest), picture.boxes);
    const auto [before, fresh] = seen.emplace(picture.name, number);
    if (wrong.empty() && !fresh) wrong = fmt::format("named before, in line {}", before->second);
    if (wrong.empty())
      out.pictures.push_back(std::move(picture));
    else
      out.errors.push_back({Cause::corrupt, fmt::format("{}:{}", path, number), wrong});
  }
  return out;
}

Result<std::vector<Region>> regions_of(const TruthLine& line, int width, int height,
                                       const std::string& path) {
  std::vector<Region> out;
  for (const PixelBox& b : line.boxes) {
    if (b.x < -1 || b.y < -1 || b.x + b.w > width + 1 || b.y + b.h > height + 1)
      return Error{Cause::corrupt, fmt::format("{}:{}", path, line.line),
                   fmt::format("box {} lies outside of {} ({} x {} pixels)", out.size() + 1,
                               one_line(line.name), width, height)};
    out.push_back(clamped({b.x / width, b.y / height, b.w / width, b.h / height}));
  }
  return out;
}

}  // namespace burstsieve::subject_check
