#include "encoding.h"

#include <fmt/format.h>

#include <array>
#include <optional>
#include <vector>

#include "burstsieve/base/text.h"

namespace burstsieve::sidecar {

namespace {

Error cut() {
  return Error{Cause::truncated, {}, "ends in the middle"};
}
Error bad(std::string text) {
  return Error{Cause::corrupt, {}, std::move(text)};
}
Error bad_char(char32_t c) {
  return bad(fmt::format("holds a character that XML does not allow (U+{:04X})", std::uint32_t{c}));
}

// The two bytes decide, as in appendix F: XML starts with '<' or with a byte order mark.
Result<Encoding> family_of(Bytes b) {
  const auto starts = [&](auto... lead) {
    const std::array<std::uint8_t, sizeof...(lead)> mark{static_cast<std::uint8_t>(lead)...};
    return b.size() >= mark.size() && std::equal(mark.begin(), mark.end(), b.begin());
  };
  if (starts(0xff, 0xfe, 0, 0) || starts(0, 0, 0xfe, 0xff) || starts('<', 0, 0, 0) || starts(0, 0, 0, '<'))
    return Error{Cause::unsupported, {}, "is in UTF-32; only UTF-8 and UTF-16 are read"};
  if (starts(0xff, 0xfe) || starts('<', 0)) return Encoding::utf16_le;
  if (starts(0xfe, 0xff) || starts(0, '<')) return Encoding::utf16_be;
  if (b.size() == 1 && (b[0] == 0 || b[0] >= 0xfe)) return cut();
  return Encoding::utf8;
}

// Unicode 15, table 3-7: nothing overlong, no surrogates.
Status check_utf8(std::string_view s) {
  for (std::size_t at = 0; at < s.size();) {
    const auto lead = static_cast<unsigned char>(s[at]);
    const std::size_t length = lead < 0x80 ? 1 : lead < 0xc2 ? 0 : lead < 0xe0 ? 2 : lead < 0xf0 ? 3 : 4;
    if (length == 0 || lead > 0xf4) return bad("holds bytes that are no UTF-8");
    for (std::size_t i = 1; i < length; ++i) {
      if (at + i == s.size()) return cut();
      const auto c = static_cast<unsigned char>(s[at + i]);
      const bool first = i == 1;
      const unsigned lo = first && lead == 0xe0 ? 0xa0 : first && lead == 0xf0 ? 0x90 : 0x80;
      const unsigned hi = first && lead == 0xed ? 0x9f : first && lead == 0xf4 ? 0x8f : 0xbf;
      if (c < lo || c > hi) return bad("holds bytes that are no UTF-8");
    }
    if (const char32_t c = next_char(s, at); !is_xml_char(c)) return bad_char(c);
  }
  return Done{};
}

Result<std::string> from_utf16(Bytes b, bool big) {
  const auto unit = [&](std::size_t at) {
    return static_cast<char32_t>(big ? b[at] << 8 | b[at + 1] : b[at + 1] << 8 | b[at]);
  };
  std::string out;
  out.reserve(b.size());
  const std::size_t end = b.size() & ~std::size_t{1};
  for (std::size_t at = 0; at < end; at += 2) {
    char32_t c = unit(at);
    if (c >= 0xd800 && c < 0xdc00) {
      if (at + 2 >= end) return cut();
      const char32_t low = unit(at += 2);
      if (low < 0xdc00 || low > 0xdfff) return bad("holds half a character (a lone UTF-16 surrogate)");
      c = 0x10000 + ((c - 0xd800) << 10) + (low - 0xdc00);
    } else if (c >= 0xdc00 && c < 0xe000) {
      return bad("holds half a character (a lone UTF-16 surrogate)");
    }
    if (!is_xml_char(c)) return bad_char(c);
    append_utf8(out, c);
  }
  if (end != b.size()) return cut();
  return out;
}

struct Declared {
  std::size_t end = 0;  // behind "?>"
  std::string version;
  std::string encoding;  // lower case; empty when it names none
};

// `at`: behind "<?xml". Production XMLDecl, in its fixed order.
Result<Declared> read_declaration(std::string_view text, std::size_t at) {
  const auto malformed = [] { return bad("is not well-formed XML: its XML declaration"); };
  Declared out;
  out.end = text.find("?>", at);
  if (out.end == std::string_view::npos) return cut();
  std::string_view rest = text.substr(at, out.end - at);
  out.end += 2;
  const auto skip_space = [&] {
    while (!rest.empty() && is_xml_space(rest.front())) rest.remove_prefix(1);
  };
  std::size_t expected = 0;
  for (skip_space(); !rest.empty(); skip_space()) {
    static constexpr std::array<std::string_view, 3> kNames{"version", "encoding", "standalone"};
    while (expected < kNames.size() && !rest.starts_with(kNames[expected])) ++expected;
    if (expected == kNames.size()) return malformed();
    rest.remove_prefix(kNames[expected].size());
    skip_space();
    if (!rest.starts_with('=')) return malformed();
    rest.remove_prefix(1);
    skip_space();
    if (rest.empty() || (rest.front() != '"' && rest.front() != '\'')) return malformed();
    const auto quote = rest.find(rest.front(), 1);
    if (quote == std::string_view::npos) return malformed();
    const std::string_view value = rest.substr(1, quote - 1);
    if (value.empty() || value.find('<') != std::string_view::npos) return malformed();
    if (expected == 0) out.version = value;
    if (expected == 1) out.encoding = lower_ascii(value);
    rest.remove_prefix(quote + 1);
    if (!rest.empty() && !is_xml_space(rest.front())) return malformed();
    ++expected;
  }
  if (out.version.empty()) return malformed();
  if (out.version != "1.0") return Error{Cause::unsupported, {}, "is not in XML 1.0"};
  return out;
}

// What the file calls its encoding must fit what its bytes are.
Result<Encoding> agreed(Encoding family, const std::string& name) {
  const bool wide = family != Encoding::utf8;
  if (name.empty()) return family;
  if (name == "utf-16" || name == "utf-16le" || name == "utf-16be") {
    const bool other_order = (name == "utf-16le" && family == Encoding::utf16_be) ||
                             (name == "utf-16be" && family == Encoding::utf16_le);
    if (wide && !other_order) return family;
  } else if (name == "utf-8" || name == "utf8") {
    if (!wide) return family;
  } else if (name == "us-ascii" || name == "ascii") {
    if (!wide) return Encoding::ascii;
  } else {
    return Error{Cause::unsupported,
                 {},
                 "declares the encoding " + one_line(name) + "; only UTF-8 and UTF-16 are read"};
  }
  return bad("declares the encoding " + one_line(name) + " but is in another one");
}

}  // namespace

bool is_xml_space(char c) {
  return c == ' ' || c == '\t' || c == '\n' || c == '\r';
}

bool is_xml_char(char32_t c) {
  if (c < 0x20) return c == '\t' || c == '\n' || c == '\r';
  return c <= 0xd7ff || (c >= 0xe000 && c <= 0xfffd) || (c >= 0x10000 && c <= 0x10ffff);
}

void append_utf8(std::string& out, char32_t c) {
  const auto put = [&](char32_t byte) { out += static_cast<char>(static_cast<unsigned char>(byte)); };
  if (c < 0x80) return put(c);
  if (c < 0x800) {
    put(0xc0 | c >> 6);
  } else {
    if (c < 0x10000) {
      put(0xe0 | c >> 12);
    } else {
      put(0xf0 | c >> 18);
      put(0x80 | (c >> 12 & 63));
    }
    put(0x80 | (c >> 6 & 63));
  }
  put(0x80 | (c & 63));
}

char32_t next_char(std::string_view utf8, std::size_t& at) {
  const auto lead = static_cast<unsigned char>(utf8[at++]);
  if (lead < 0x80) return lead;
  const int more = lead < 0xe0 ? 1 : lead < 0xf0 ? 2 : 3;
  char32_t c = lead & (0x3fu >> more);
  for (int i = 0; i < more; ++i) c = c << 6 | (static_cast<unsigned char>(utf8[at++]) & 63u);
  return c;
}

Result<XmlText> decoded(Bytes bytes) {
  const auto family = family_of(bytes);
  if (!family) return family.error();
  XmlText out;
  if (*family == Encoding::utf8) {
    out.utf8.assign(bytes.begin(), bytes.end());
    if (auto s = check_utf8(out.utf8); !s) return s.error();
  } else {
    auto text = from_utf16(bytes, *family == Encoding::utf16_be);
    if (!text) return text.error();
    out.utf8 = std::move(*text);
  }
  const std::string_view all = out.utf8;
  if (all.starts_with("\xef\xbb\xbf")) out.body = 3;
  Declared declared;
  constexpr std::string_view kStart = "<?xml";
  const std::size_t name_end = out.body + kStart.size();
  if (all.substr(out.body).starts_with(kStart) && (all.size() == name_end || is_xml_space(all[name_end]))) {
    auto found = read_declaration(all, name_end);
    if (!found) return found.error();
    declared = std::move(*found);
    out.body = declared.end;
  }
  const auto encoding = agreed(*family, declared.encoding);
  if (!encoding) return encoding.error();
  out.encoding = *encoding;
  if (out.encoding == Encoding::ascii)
    for (const char c : all)
      if (static_cast<unsigned char>(c) >= 0x80) return bad("declares US-ASCII but holds other characters");
  return out;
}

ByteBuffer encoded(std::string_view utf8, Encoding encoding) {
  if (encoding == Encoding::utf8) return {utf8.begin(), utf8.end()};
  ByteBuffer out;
  const auto unit = [&](char32_t u) {
    const auto high = static_cast<std::uint8_t>(u >> 8), low = static_cast<std::uint8_t>(u & 0xff);
    const bool big = encoding == Encoding::utf16_be;
    out.push_back(big ? high : low);
    out.push_back(big ? low : high);
  };
  for (std::size_t at = 0; at < utf8.size();) {
    const char32_t c = next_char(utf8, at);
    if (encoding == Encoding::ascii) {
      // Decimal: the XMP toolkit inside exiv2 0.27 loses "&#xFC;", as if it were a control character.
      const std::string text =
          c < 0x80 ? std::string(1, static_cast<char>(c)) : fmt::format("&#{};", std::uint32_t{c});
      out.insert(out.end(), text.begin(), text.end());
    } else if (c < 0x10000) {
      unit(c);
    } else {
      unit(0xd800 + ((c - 0x10000) >> 10));
      unit(0xdc00 + ((c - 0x10000) & 0x3ff));
    }
  }
  return out;
}

}  // namespace burstsieve::sidecar
