// Where the animals are, as a person wrote it down: a plain text file beside the pictures.
#pragma once
#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

#include "burstsieve/base/result.h"
#include "burstsieve/model/region.h"

namespace burstsieve::subject_check {

// A box in pixels of the upright picture; (0,0) is the corner of the first pixel.
struct PixelBox {
  double x = 0, y = 0, w = 0, h = 0;
};

struct TruthLine {
  int line = 0;  // 1-based
  std::string name;
  std::vector<PixelBox> boxes;  // empty: the picture shows no animal
};

struct TruthFile {
  std::vector<TruthLine> pictures;   // in the order of the file
  std::vector<std::string> credits;  // texts of the lines "# credit: ..."
  std::vector<Error> errors;         // lines that were passed over; file is "PATH:LINE"
};

inline constexpr std::uint64_t kMostTruthBytes = 64 << 20;  // a million pictures with a box each

// The format as --help and docs/subject.md state it.
extern const char* const kTruthFormat;

// `path` is for errors only.
TruthFile parse_truth(std::string_view text, const std::string& path);

// The boxes as regions of a picture of width x height pixels. Error: a box that lies outside it by more than
// a pixel; "PATH:LINE" is its file.
Result<std::vector<Region>> regions_of(const TruthLine& line, int width, int height, const std::string& path);

}  // namespace burstsieve::subject_check
