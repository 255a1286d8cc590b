#include "xml_text.h"

#include <algorithm>
#include <charconv>
#include <cstdint>

#include "encoding.h"

namespace burstsieve::sidecar {

namespace {

struct Range {
  char32_t first, last;
};

// XML 1.0 (5th ed.) §2.3, NameStartChar without the colon, and what NameChar adds.
constexpr Range kStart[] = {
    {'A', 'Z'},       {'_', '_'},       {'a', 'z'},       {0xc0, 0xd6},     {0xd8, 0xf6},
    {0xf8, 0x2ff},    {0x370, 0x37d},   {0x37f, 0x1fff},  {0x200c, 0x200d}, {0x2070, 0x218f},
    {0x2c00, 0x2fef}, {0x3001, 0xd7ff}, {0xf900, 0xfdcf}, {0xfdf0, 0xfffd}, {0x10000, 0xeffff},
};
constexpr Range kLater[] = {{'-', '.'}, {'0', '9'}, {0xb7, 0xb7}, {0x300, 0x36f}, {0x203f, 0x2040}};

template <std::size_t N>
bool in(const Range (&ranges)[N], char32_t c) {
  return std::any_of(std::begin(ranges), std::end(ranges),
                     [c](const Range& r) { return c >= r.first && c <= r.last; });
}

}  // namespace

std::optional<std::string> entity(std::string_view name) {
  if (name == "amp") return "&";
  if (name == "lt") return "<";
  if (name == "gt") return ">";
  if (name == "quot") return "\"";
  if (name == "apos") return "'";
  if (name.size() < 2 || name[0] != '#') return std::nullopt;
  name.remove_prefix(1);
  int base = 10;
  if (name[0] == 'x') {
    base = 16;
    name.remove_prefix(1);
  }
  std::uint32_t code = 0;
  const auto end = name.data() + name.size();
  const auto [at, ec] = std::from_chars(name.data(), end, code, base);
  if (ec != std::errc() || at != end || !is_xml_char(code)) return std::nullopt;
  std::string out;
  append_utf8(out, code);
  return out;
}

std::string unescaped(std::string_view raw) {
  std::string out;
  for (std::size_t i = 0; i < raw.size(); ++i) {
    if (raw[i] == '&') {
      const auto semicolon = raw.find(';', i);
      if (semicolon != std::string_view::npos)
        if (const auto e = entity(raw.substr(i + 1, semicolon - i - 1))) {
          out += *e;
          i = semicolon;
          continue;
        }
    }
    out += raw[i];
  }
  return out;
}

std::string escaped(std::string_view plain) {
  std::string out;
  for (const char c : plain) switch (c) {
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
      default:
        out += c;
    }
  return out;
}

bool is_ncname(std::string_view name) {
  bool first = true;
  for (std::size_t at = 0; at < name.size(); first = false) {
    const char32_t c = next_char(name, at);
    if (!in(kStart, c) && (first || !in(kLater, c))) return false;
  }
  return !first;
}

}  // namespace burstsieve::sidecar
