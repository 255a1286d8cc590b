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

}  // namespace burstsieve::report
