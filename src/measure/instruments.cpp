#include <algorithm>

#include "burstsieve/measure/instrument.h"

namespace burstsieve::measure {

std::vector<Measure> measure_pixels(const PixelInput& input) {
  std::vector<Measure> out;
  for (const Instrument* instrument : instruments())
    if (instrument->from_pixels) instrument->from_pixels(input, out);
  return out;
}

void measure_mosaic(const MosaicInput& input, std::vector<Measure>& measures) {
  std::vector<Measure> fresh;
  for (const Instrument* instrument : instruments())
    if (instrument->from_mosaic) instrument->from_mosaic(input, fresh);
  for (Measure& m : fresh) {
    const auto old =
        std::find_if(measures.begin(), measures.end(), [&](const Measure& o) { return o.id == m.id; });
    if (old == measures.end())
      measures.push_back(std::move(m));
    else
      *old = std::move(m);
  }
}

}  // namespace burstsieve::measure
