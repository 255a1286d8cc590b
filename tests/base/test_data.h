// Where tools/test-data.sh keeps what it fetched.
#pragma once
#include <cstdlib>
#include <string>

namespace burstsieve::test {

// $BURSTSIEVE_TEST_DATA, else $XDG_CACHE_HOME or ~/.cache with a folder of ours; as tools/test-data.sh
// --where.
inline std::string data_cache() {
  if (const char* named = std::getenv("BURSTSIEVE_TEST_DATA")) return named;
  if (const char* xdg = std::getenv("XDG_CACHE_HOME")) return std::string(xdg) + "/burstsieve-test-data";
  const char* home = std::getenv("HOME");
  return std::string(home ? home : "") + "/.cache/burstsieve-test-data";
}

}  // namespace burstsieve::test
