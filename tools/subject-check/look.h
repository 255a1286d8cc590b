// One picture through the engine's finders, as a run would ask them.
#pragma once
#include <memory>
#include <opencv2/core.hpp>
#include <string>
#include <vector>

#include "burstsieve/base/result.h"
#include "score.h"

namespace burstsieve::subject_check {

struct Looked {
  int width = 0, height = 0;    // upright pixels
  bool af = false;              // the file states a focus area
  int looks = 0;                // passes of the detector that find_small() needed; 0 without detector
  std::vector<Answer> answers;  // by finder, then "all, fused"
  cv::Mat small;                // CV_8UC3 BGR, upright, longest side at most 1400 px, for the report
};

inline const std::string kFused = "all, fused";

// The finders, and the detector where this build and machine have one.
class Lookout {
 public:
  // `model`: folder or file of the detector's network; empty: the usual place, and no error without it.
  // `most_looks`: passes that find_small() may take.
  static Result<Lookout> open(const std::string& model, int most_looks);
  Lookout(Lookout&&) noexcept;
  ~Lookout();
  bool detector() const;
  // JPEG and raw files are decoded as by a run; other pictures (PNG, TIFF) are turned into a JPEG of quality
  // 97 in the system's temporary folder first. Errors: as decode_planes; corrupt when the picture is damaged.
  Result<Looked> at(const std::string& path) const;

 private:
  struct Eye;
  explicit Lookout(std::unique_ptr<Eye> eye);
  std::unique_ptr<Eye> eye_;
};

}  // namespace burstsieve::subject_check
