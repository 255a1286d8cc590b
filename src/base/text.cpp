#include "burstsieve/base/text.h"

#include <fmt/format.h>

#include <cmath>
#include <cstddef>

namespace burstsieve {
namespace {

// Length of the valid UTF-8 sequence at `at` (Unicode 15, table 3-7), 0 when there is none.
std::size_t utf8_length(std::string_view s, std::size_t at) {
  const auto byte = [&](std::size_t i) {
    return i < s.size() ? static_cast<unsigned char>(s[i]) : static_cast<unsigned char>(0);
  };
  const auto tail = [&](std::size_t i, unsigned lo = 0x80, unsigned hi = 0xBF) {
    return byte(i) >= lo && byte(i) <= hi;
  };
  const unsigned lead = byte(at);
  if (lead < 0x80) return 1;
  if (lead >= 0xC2 && lead <= 0xDF) return tail(at + 1) ? 2 : 0;
  if (lead >= 0xE0 && lead <= 0xEF) {
    const unsigned lo = lead == 0xE0 ? 0xA0 : 0x80;
    const unsigned hi = lead == 0xED ? 0x9F : 0xBF;
    return tail(at + 1, lo, hi) && tail(at + 2) ? 3 : 0;
  }
  if (lead >= 0xF0 && lead <= 0xF4) {
    const unsigned lo = lead == 0xF0 ? 0x90 : 0x80;
    const unsigned hi = lead == 0xF4 ? 0x8F : 0xBF;
    return tail(at + 1, lo, hi) && tail(at + 2) && tail(at + 3) ? 4 : 0;
  }
  return 0;
}

}  // namespace

std::string percent_escaped(std::string_view text) {
  std::string out;
  out.reserve(text.size());
  for (std::size_t i = 0; i < text.size();) {
    const auto c = static_cast<unsigned char>(text[i]);
    const std::size_t length = c < 0x20 || c == 0x7F || c == '%' ? 0 : utf8_length(text, i);
    if (length == 0)
      out += fmt::format("%{:02X}", c);
    else
      out.append(text.substr(i, length));
    i += length == 0 ? 1 : length;
  }
  return out;
}

std::optional<std::string> percent_unescaped(std::string_view text) {
  const auto digit = [](char c) {
    return c >= '0' && c <= '9'   ? c - '0'
           : c >= 'A' && c <= 'F' ? c - 'A' + 10
           : c >= 'a' && c <= 'f' ? c - 'a' + 10
                                  : -1;
  };
  std::string out;
  out.reserve(text.size());
  for (std::size_t i = 0; i < text.size(); ++i) {
    if (text[i] != '%') {
      out += text[i];
      continue;
    }
    if (i + 2 >= text.size()) return std::nullopt;
    const int high = digit(text[i + 1]), low = digit(text[i + 2]);
    if (high < 0 || low < 0) return std::nullopt;
    out += static_cast<char>(high * 16 + low);
    i += 2;
  }
  return out;
}

std::string one_line(std::string_view text) {
  std::string out;
  out.reserve(text.size());
  for (std::size_t i = 0; i < text.size();) {
    const auto c = static_cast<unsigned char>(text[i]);
    const std::size_t length = utf8_length(text, i);
    // U+0080..U+009F are control characters too: terminals obey them.
    const bool c1 = length == 2 && c == 0xC2 && static_cast<unsigned char>(text[i + 1]) < 0xA0;
    if (length == 0 || c < 0x20 || c == 0x7F || c1) {
      out += fmt::format("\\x{:02x}", c);
      ++i;
      continue;
    }
    out.append(text.substr(i, length));
    i += length;
  }
  return out;
}

std::string lower_ascii(std::string_view text) {
  std::string out(text);
  for (char& c : out)
    if (c >= 'A' && c <= 'Z') c = static_cast<char>(c - 'A' + 'a');
  return out;
}

std::string trimmed(std::string_view text) {
  constexpr std::string_view blank{" \t\r\n\0", 5};
  const auto first = text.find_first_not_of(blank);
  if (first == std::string_view::npos) return {};
  const auto last = text.find_last_not_of(blank);
  return std::string(text.substr(first, last - first + 1));
}

std::string fixed(double value, int decimals) {
  if (!std::isfinite(value)) return "?";
  std::string out = fmt::format("{:.{}f}", value, decimals);
  if (out.find_first_not_of("-0.") == std::string::npos && !out.empty() && out[0] == '-') out.erase(0, 1);
  return out;
}

}  // namespace burstsieve
