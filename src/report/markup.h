// What every page needs: text that can't break out of its place, pictures as text.
#pragma once
#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

namespace burstsieve::report {

// For HTML and SVG text and for attributes in double quotes; also one line and valid UTF-8.
std::string html(std::string_view text);
std::string base64(const std::vector<std::uint8_t>& bytes);

// The mark of a verdict is a feather: full, half full, or struck through and empty. Shape carries the
// meaning, colour repeats it.
inline constexpr const char* kVerdictMarks = R"svg(<svg class="hide" aria-hidden="true"><defs>
<pattern id="hatch" width="6" height="6" patternUnits="userSpaceOnUse" patternTransform="rotate(45)">
<rect width="6" height="6" class="paper"/><rect width="2.5" height="6" class="undecided"/></pattern>
<symbol id="m-keep" viewBox="0 0 20 20"><path d="M3 17C2 9 8 3 17 3C17 12 11 18 3 17Z" class="keep"/></symbol>
<symbol id="m-undecided" viewBox="0 0 20 20"><path d="M3 17C2 9 8 3 17 3Z" class="undecided"/>
<path d="M3 17C2 9 8 3 17 3C17 12 11 18 3 17Z" class="undecided line"/></symbol>
<symbol id="m-reject" viewBox="0 0 20 20"><path d="M3 17C2 9 8 3 17 3C17 12 11 18 3 17Z" class="reject line"/>
<path d="M4 5L16 16" class="reject line"/></symbol>
</defs></svg>
)svg";

// An image of the mark of "keep", "undecided" or "reject"; kVerdictMarks must stand on the page.
std::string verdict_mark(const char* verdict);

}  // namespace burstsieve::report
