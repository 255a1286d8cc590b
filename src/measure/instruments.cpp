#include <algorithm>

#include "burstsieve/measure/instrument.h"
#include "burstsieve/measure/trust.h"

namespace burstsieve::measure {

std::vector<Measure> measure_pixels(const PixelInput& input) {
  std::vector<Measure> out;
  for (const Instrument* instrument : instruments())
    if (instrument->from_pixels) instrument->from_pixels(input, out);
  calibrate(out, 0);
  return out;
}

void measure_mosaic(const MosaicInput& input, std::vector<Measure>& measures) {
  for (const Instrument* instrument : instruments()) {
    if (!instrument->from_mosaic) continue;
    std::erase_if(measures, [&](const Measure& m) {
      return std::any_of(instrument->produces.begin(), instrument->produces.end(),
                         [&](const MeasureSpec& s) { return s.id == m.id; });
    });
    const std::size_t first = measures.size();
    instrument->from_mosaic(input, measures);
    calibrate(measures, first);
  }
}

}  // namespace burstsieve::measure
