#include "choices_file.h"

#include <fmt/format.h>

#include <algorithm>
#include <charconv>
#include <cmath>
#include <optional>
#include <set>
#include <utility>

#include "burstsieve/base/text.h"

namespace burstsieve::series {

const char* const kChoicesFormat =
    "Choices: plain text, a line for each pair of photographs that people chose between:\n"
    "  series  photo-a  photo-b  share  [votes]\n"
    "series: any name; photo-a, photo-b: paths below FOLDER; share: 0 to 1, of the people who preferred "
    "photo-a;\n"
    "votes: how many were asked. Fields are separated by tabs, or by blanks in a line without a tab. Empty "
    "lines\n"
    "and lines that begin with # say nothing.\n"
    "Where series, photo-a and photo-b are numbers, as in \"123 1 2 0.7\", the photographs are "
    "FOLDER/000123-01.JPG\n"
    "and FOLDER/000123-02.JPG, and a fifth field is passed over. That is the form of the data set of the "
    "SIGGRAPH\n"
    "2016 work on photo series as far as we remember it: from memory, not verified, and we have no copy.";

namespace {

constexpr std::size_t kMostNameBytes = 1024;

std::vector<std::string> fields_of(const std::string& line) {
  const std::string separators = line.find('\t') == std::string::npos ? " " : "\t";
  std::vector<std::string> out;
  for (std::size_t at = 0; (at = line.find_first_not_of(separators, at)) != std::string::npos;) {
    const std::size_t end = std::min(line.find_first_of(separators, at), line.size());
    out.push_back(trimmed(line.substr(at, end - at)));
    at = end;
  }
  return out;
}

template <class Number>
std::optional<Number> number_of(const std::string& word) {
  Number value{};
  const auto [end, problem] = std::from_chars(word.data(), word.data() + word.size(), value);
  if (problem != std::errc{} || end != word.data() + word.size()) return std::nullopt;
  return value;
}

bool is_below(const std::string& name) {
  return !name.empty() && name.size() <= kMostNameBytes && name.front() != '/' && name != ".." &&
         !name.starts_with("../") && name.find("/../") == std::string::npos && !name.ends_with("/..");
}

// What is wrong with the line; empty when `out` got it.
std::string read_choice(std::vector<std::string> f, PairChoice& out) {
  if (f.size() < 4 || f.size() > 5) return fmt::format("{} fields, not 4 or 5", f.size());
  const auto series = number_of<unsigned>(f[0]), a = number_of<unsigned>(f[1]), b = number_of<unsigned>(f[2]);
  if (series && a && b) {
    f[1] = fmt::format("{:06}-{:02}.JPG", *series, *a);
    f[2] = fmt::format("{:06}-{:02}.JPG", *series, *b);
    f.resize(4);
  }
  for (const std::string& name : {f[1], f[2]})
    if (!is_below(name)) return fmt::format("'{}' is no path below the folder", one_line(name));
  if (f[1] == f[2]) return "a photograph can't be preferred to itself";
  const auto share = number_of<double>(f[3]);
  if (!share || !(*share >= 0 && *share <= 1))
    return fmt::format("'{}' is no share from 0 to 1", one_line(f[3]));
  if (f.size() == 5) {
    const auto votes = number_of<int>(f[4]);
    if (!votes || *votes < 1) return fmt::format("'{}' is no number of votes", one_line(f[4]));
    out.votes = *votes;
  }
  out.a = f[1], out.b = f[2], out.share = *share;
  return {};
}

}  // namespace

ChoicesFile parse_choices(std::string_view text, const std::string& path) {
  ChoicesFile out;
  std::map<std::string, std::set<std::pair<std::string, std::string>>> seen;
  if (text.starts_with("\xEF\xBB\xBF")) text.remove_prefix(3);  // some editors begin a file so
  for (int number = 1; !text.empty(); ++number) {
    const std::size_t end = text.find('\n');
    const std::string line = trimmed(text.substr(0, end));
    text.remove_prefix(end == std::string_view::npos ? text.size() : end + 1);
    if (line.empty() || line.front() == '#') continue;
    PairChoice choice;
    choice.line = number;
    const auto fields = fields_of(line);
    std::string wrong = read_choice(fields, choice);
    if (wrong.empty() && !seen[fields[0]].insert(std::minmax(choice.a, choice.b)).second)
      wrong = "this pair was named before";
    if (wrong.empty())
      out.series[fields[0]].push_back(std::move(choice));
    else
      out.errors.push_back({Cause::corrupt, fmt::format("{}:{}", path, number), wrong});
  }
  return out;
}

}  // namespace burstsieve::series
