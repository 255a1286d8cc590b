// The files of the page, built into the program (tools/cmake/embed.cmake).
#pragma once
#include <span>
#include <string_view>

namespace burstsieve::serve {

struct Asset {
  std::string_view name;  // "main.js": no folders
  std::string_view bytes;
};

// By name, ascending.
std::span<const Asset> assets();

}  // namespace burstsieve::serve
