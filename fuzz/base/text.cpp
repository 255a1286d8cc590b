// Promise: whatever a name or a note holds, what is shown of it is one line of valid UTF-8 that drives no
// terminal; clean text stays as it is.
#include "burstsieve/base/text.h"

#include <algorithm>
#include <string>

#include "support/target.h"

using namespace burstsieve;

int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const std::string text(data, data + size);
  const std::string line = one_line(text);
  fuzz::require(std::none_of(line.begin(), line.end(), [](unsigned char c) { return c < 0x20 || c == 0x7f; }),
                "a line has no control characters");
  fuzz::require(one_line(line) == line, "a clean line stays as it is");
  fuzz::require(line.size() >= text.size(), "nothing is dropped from a line");
  fuzz::require(trimmed(trimmed(text)) == trimmed(text), "trimming twice is trimming once");
  fuzz::require(lower_ascii(lower_ascii(text)) == lower_ascii(text), "lower case stays lower case");
  fuzz::came_out(line == text ? "clean" : "escaped");
  return 0;
}
