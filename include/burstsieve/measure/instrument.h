// An instrument turns pixels into measures. Each file in src/measure/instrument/ defines one; CMake writes
// the table, and the conformance test in tests/measure runs every one on the inputs that break maths.
#pragma once
#include <span>
#include <string_view>
#include <vector>

#include "burstsieve/decode/mosaic.h"
#include "burstsieve/decode/pixels.h"
#include "burstsieve/measure/detail.h"
#include "burstsieve/measure/focus_map.h"
#include "burstsieve/model/capture.h"
#include "burstsieve/model/measure.h"

namespace burstsieve::measure {

// What a measure promises; the conformance test holds it to that.
struct MeasureSpec {
  std::string_view id;
  std::string_view unit;
  double low = 0, high = 0;  // closed range of the value
  std::string_view meaning;  // one sentence for people
};

struct PixelInput {
  const decode::Planes* planes = nullptr;
  const cv::Mat* activity = nullptr;  // image::activity_map(planes->luma)
  const Capture* capture = nullptr;
  Subject subject;
  CellMask mask;                    // the animal's outline inside the box; empty when unknown
  Detail detail;                    // of the subject's head where known, else of its box
  const FocusMap* focus = nullptr;  // upright; null: whoever needs it makes it
  // All subjects of the frame, best first, each with its own measures; empty: only `subject` is known.
  std::span<const Subject> subjects = {};
};

struct MosaicInput {
  const decode::Mosaic* mosaic = nullptr;  // of the subject's box
  Subject subject;
  CellMask mask;
  const decode::Mosaic* overview = nullptr;  // rows of the whole picture; null where they are not known
};

struct Instrument {
  std::string_view id;
  std::span<const MeasureSpec> produces;
  // Either may be null. Append measures named in `produces` only; append nothing when there is nothing to
  // say.
  void (*from_pixels)(const PixelInput& input, std::vector<Measure>& out);
  void (*from_mosaic)(const MosaicInput& input, std::vector<Measure>& out);
  bool each_subject = false;  // from_pixels is asked of every subject, not only of the first
};

std::span<const Instrument* const> instruments();  // sorted by id

// Every instrument that reads pixels, in table order.
std::vector<Measure> measure_pixels(const PixelInput& input);
// Every instrument that reads the mosaic. What these instruments said of the rendered picture goes, also
// where the mosaic has no answer: a rendering must not speak for a sensor that was read.
void measure_mosaic(const MosaicInput& input, std::vector<Measure>& measures);

}  // namespace burstsieve::measure
