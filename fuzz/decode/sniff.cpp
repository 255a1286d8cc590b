// Promise: what a file is depends on its content; its name only tells apart raws of one container.
#include "burstsieve/decode/sniff.h"

#include <algorithm>

#include "support/target.h"

using namespace burstsieve;

int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const Bytes head(data, size);
  const auto nameless = decode::sniff(head, "");
  const bool tiff = size >= 4 && ((data[0] == 'I' && data[1] == 'I') || (data[0] == 'M' && data[1] == 'M'));
  std::string words = nameless ? "accepted " + nameless->format : "refused";
  for (const char* name : {"A.NEF", "a.dng", "A.GPR", "A.JPG", "A.PNG", ".", "A.", "\xff.\xff"}) {
    const auto named = decode::sniff(head, name);
    fuzz::require(!nameless || named, "a name never refuses what the content shows");
    fuzz::require(tiff || nameless.has_value() == named.has_value(), "a name never accepts a file");
    if (nameless && named) fuzz::require(nameless->kind == named->kind, "a name does not change the kind");
    if (named && !nameless) words = "accepted by name";
    if (!named) continue;
    fuzz::require(!named->format.empty() && named->format.size() <= 4 &&
                      std::all_of(named->format.begin(), named->format.end(),
                                  [](char c) { return (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9'); }),
                  "a format is a short word");
    fuzz::require((named->kind == FileKind::jpeg) == (named->format == "JPEG"), "only a JPEG is a JPEG");
  }
  fuzz::came_out(words);
  return 0;
}
