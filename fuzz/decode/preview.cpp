// Promise: the last resort for unknown containers finds only JPEGs that stand in the bytes, in bounded time.
#include "preview.h"

#include "support/target.h"

using namespace burstsieve;
using namespace burstsieve::decode;

int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const Bytes bytes(data, size);
  const auto best = largest_preview(bytes);
  const auto first = preview_at_start(bytes);
  for (const auto& found : {best, first}) {
    if (!found) continue;
    fuzz::require(found->offset < size && found->size <= size - found->offset, "a preview lies in the file");
    fuzz::require(found->width >= 16 && found->height >= 16, "a preview is no speck");
    fuzz::require(data[found->offset] == 0xff && data[found->offset + 1] == 0xd8, "a preview is a JPEG");
  }
  if (best && first) fuzz::require(first->pixels() <= best->pixels(), "the largest is the largest");
  fuzz::came_out(best ? std::to_string(best->width) + "x" + std::to_string(best->height) : "none");
  return 0;
}
