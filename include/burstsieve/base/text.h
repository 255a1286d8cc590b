// Small text helpers: everything that reaches a terminal or a file as one line passes through here.
#pragma once
#include <optional>
#include <string>
#include <string_view>

namespace burstsieve {

// `text` with control characters (newline, escape, ...) written as \xNN and invalid UTF-8 bytes likewise, so
// that a hostile file name can neither break a line nor drive a terminal.
std::string one_line(std::string_view text);

// `text` as UTF-8 that can be turned back exactly: the percent sign, control characters and bytes that are no
// valid UTF-8 become %XX (upper-case hexadecimal, as RFC 3986 writes bytes). For names of files in our files.
std::string percent_escaped(std::string_view text);
// Nothing when a % is not followed by two hexadecimal digits.
std::optional<std::string> percent_unescaped(std::string_view text);

// ASCII only: camera names and suffixes.
std::string lower_ascii(std::string_view text);

// Without leading and trailing blanks, tabs, line ends and NULs (EXIF strings are padded with them).
std::string trimmed(std::string_view text);

// `value` with `decimals` digits after the point, "C" locale, no trailing noise such as "-0.0".
std::string fixed(double value, int decimals);

}  // namespace burstsieve
