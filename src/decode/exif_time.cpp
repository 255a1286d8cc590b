#include "burstsieve/decode/exif_time.h"

#include <algorithm>
#include <chrono>

#include "burstsieve/base/text.h"

namespace burstsieve::decode {
namespace {

bool digit(char c) {
  return c >= '0' && c <= '9';
}

// `count` digits at `at`; nothing when one is not a digit.
std::optional<int> digits(std::string_view text, std::size_t at, std::size_t count) {
  if (text.size() < at + count) return std::nullopt;
  int v = 0;
  for (std::size_t i = at; i < at + count; ++i) {
    if (!digit(text[i])) return std::nullopt;
    v = v * 10 + (text[i] - '0');
  }
  return v;
}

}  // namespace

std::optional<std::int64_t> parse_exif_time(std::string_view raw) {
  const std::string text = trimmed(raw);
  // Some writers use '-' or '/' between the parts of the date and 'T' before the time.
  const auto year = digits(text, 0, 4);
  const auto month = digits(text, 5, 2);
  const auto day = digits(text, 8, 2);
  const auto hour = digits(text, 11, 2);
  const auto minute = digits(text, 14, 2);
  const auto second = digits(text, 17, 2);
  if (!year || !month || !day || !hour || !minute || !second) return std::nullopt;
  if (digit(text[4]) || digit(text[7]) || digit(text[10]) || text[13] != ':' || text[16] != ':')
    return std::nullopt;
  if (*year < 1900 || *hour > 23 || *minute > 59 || *second > 60) return std::nullopt;
  const std::chrono::year_month_day date{std::chrono::year(*year),
                                         std::chrono::month(static_cast<unsigned>(*month)),
                                         std::chrono::day(static_cast<unsigned>(*day))};
  if (!date.ok()) return std::nullopt;
  const std::int64_t days = std::chrono::sys_days(date).time_since_epoch().count();
  return ((days * 24 + *hour) * 60 + *minute) * 60'000 + std::min(*second, 59) * 1000;
}

std::optional<int> parse_subsecond(std::string_view raw) {
  const std::string text = trimmed(raw);
  if (text.empty() || !digit(text.front())) return std::nullopt;
  int ms = 0;
  int unit = 100;
  for (const char c : text) {
    if (!digit(c) || unit == 0) break;
    ms += (c - '0') * unit;
    unit /= 10;
  }
  return ms;
}

std::optional<int> parse_utc_offset(std::string_view raw) {
  const std::string text = trimmed(raw);
  if (text == "Z") return 0;
  const auto hours = digits(text, 1, 2);
  const auto minutes = digits(text, 4, 2);
  if (!hours || !minutes || text[3] != ':' || (text[0] != '+' && text[0] != '-')) return std::nullopt;
  const int total = *hours * 60 + *minutes;
  if (*minutes > 59 || total > 14 * 60) return std::nullopt;
  return text[0] == '-' ? -total : total;
}

}  // namespace burstsieve::decode
