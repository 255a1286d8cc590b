// How a sidecar stores its characters: from bytes to one UTF-8 text, and back without losing a byte.
// XML 1.0 (5th ed.) §2.2 (characters), §2.8 (XML declaration), §4.3.3 and appendix F (encodings).
#pragma once
#include <cstddef>
#include <string>
#include <string_view>

#include "burstsieve/base/bytes.h"
#include "burstsieve/base/result.h"

namespace burstsieve::sidecar {

enum class Encoding {
  utf8,
  ascii,  // declared so: other characters are written as character references
  utf16_le,
  utf16_be,
};

struct XmlText {
  std::string utf8;      // with U+FEFF in front when the file has a byte order mark
  std::size_t body = 0;  // where it goes on behind the byte order mark and the XML declaration
  Encoding encoding = Encoding::utf8;
};

// Only characters that XML allows. Cause::truncated when the last character or the XML declaration is cut;
// Cause::corrupt for invalid UTF-8, lone surrogates, NULs and other control characters, or a declaration that
// contradicts the bytes; Cause::unsupported for UTF-32, any other encoding, and XML 1.1. Errors name no file.
Result<XmlText> decoded(Bytes bytes);

// encoded(t.utf8, t.encoding) gives back the bytes that decoded() got.
ByteBuffer encoded(std::string_view utf8, Encoding encoding);

// The character at `at` of a valid UTF-8 text, and `at` behind it.
char32_t next_char(std::string_view utf8, std::size_t& at);
void append_utf8(std::string& out, char32_t c);
// XML 1.0 §2.2, production Char.
bool is_xml_char(char32_t c);
bool is_xml_space(char c);

}  // namespace burstsieve::sidecar
