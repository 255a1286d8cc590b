// Promise: the photosites under a region are there, with a pattern of three colours and finite levels, or an
// error says why not. (Goes through the raw library: a crash inside that is why decoding is isolated.)
#include "burstsieve/decode/mosaic.h"

#include <cmath>

#include "support/memory_file.h"
#include "support/target.h"

using namespace burstsieve;
using namespace burstsieve::decode;

int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const fuzz::MemoryFile bytes(Bytes(data, size));
  FileRef file;
  file.path = bytes.path();
  file.kind = FileKind::raw;
  file.size = size;
  Limits limits;
  limits.max_pixels = 1 << 22;
  limits.max_decode_seconds = 2;
  const auto sensor = read_sensor(file, {.3, .3, .4, .4}, 1 + static_cast<int>(size % 8), limits);
  if (!sensor) {
    fuzz::refused(sensor.error());
    return 0;
  }
  const Mosaic* m = &sensor->region;
  const Mosaic& rows = sensor->overview;
  if (!rows.values.empty())
    fuzz::require(rows.sensor_x >= 0 && rows.sensor_x + rows.values.cols <= rows.sensor_width &&
                      rows.sensor_row(0) >= 0 && rows.sensor_row(rows.values.rows - 1) < rows.sensor_height,
                  "an overview lies on the sensor");
  fuzz::require(!m->values.empty() && m->values.type() == CV_16UC1, "a mosaic has values");
  fuzz::require(m->sensor_x >= 0 && m->sensor_y >= 0 && m->sensor_x + m->values.cols <= m->sensor_width &&
                    m->sensor_y + m->values.rows <= m->sensor_height,
                "a region lies on the sensor");
  for (std::size_t c = 0; c < 3; ++c)
    fuzz::require(std::isfinite(m->black[c]) && std::isfinite(m->white[c]) && m->as_shot_gain[c] > 0 &&
                      std::isfinite(m->as_shot_gain[c]),
                  "levels and gains are finite");
  for (int y = 0; y < m->cfa_side; ++y)
    for (int x = 0; x < m->cfa_side; ++x)
      fuzz::require(m->colour_at(y, x) != CfaColour::none, "every photosite has a colour");
  fuzz::came_out("accepted");
  return 0;
}
