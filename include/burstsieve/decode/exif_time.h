// Exif dates and times as numbers.
#pragma once
#include <cstdint>
#include <optional>
#include <string_view>

namespace burstsieve::decode {

// "YYYY:MM:DD HH:MM:SS" (Exif 2.32 §4.6.5, DateTimeOriginal) as milliseconds since 1970-01-01 of that clock,
// no time zone applied. Nothing for blanks, zeros and impossible dates. A leap second (60) counts as 59.
std::optional<std::int64_t> parse_exif_time(std::string_view text);

// SubSecTime: decimal digits of a fraction of a second ("5" = .5 s, "07" = .07 s) as milliseconds, cut, not
// rounded. Nothing when there is no digit.
std::optional<int> parse_subsecond(std::string_view text);

// OffsetTime "+HH:MM" or "-HH:MM" (Exif 2.31, 0x9011) or "Z", as minutes east of UTC, -14 h .. +14 h.
std::optional<int> parse_utc_offset(std::string_view text);

}  // namespace burstsieve::decode
