#include "markup.h"

#include <fmt/format.h>

#include <algorithm>
#include <cstddef>

#include "burstsieve/base/text.h"

namespace burstsieve::report {

std::string html(std::string_view text) {
  std::string out;
  for (const char c : one_line(text)) switch (c) {
      case '&':
        out += "&amp;";
        break;
      case '<':
        out += "&lt;";
        break;
      case '>':
        out += "&gt;";
        break;
      case '"':
        out += "&quot;";
        break;
      case '\'':
        out += "&#39;";
        break;
      default:
        out += c;
    }
  return out;
}

std::string base64(const std::vector<std::uint8_t>& bytes) {
  constexpr std::string_view digits = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
  std::string out;
  for (std::size_t i = 0; i < bytes.size(); i += 3) {
    const std::size_t have = std::min<std::size_t>(3, bytes.size() - i);
    std::uint32_t group = 0;
    for (std::size_t k = 0; k < 3; ++k) group = group << 8 | (k < have ? bytes[i + k] : 0u);
    for (std::size_t k = 0; k < 4; ++k) out += k <= have ? digits[group >> (18 - 6 * k) & 63] : '=';
  }
  return out;
}

std::string verdict_mark(const char* verdict) {
  return fmt::format("<svg class=\"mark\" aria-hidden=\"true\"><use href=\"#m-{}\"/></svg>", verdict);
}

}  // namespace burstsieve::report
