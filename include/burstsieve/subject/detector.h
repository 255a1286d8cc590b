// The neural subject detector: NanoDet-g, 80 categories of COCO, at most 416x416 (docs/subject.md). Optional:
// its file is installed by tools/setup.sh --detector, and everything works without it, less well.
//
// Sees: whole animals of a tenth of the picture's width or more, most smaller ones not. Blind to: a bird held
// in a hand; what kind of animal it is (a cormorant passes for a dog), so every kind counts. A reflection
// counts as an animal, too.
#pragma once
#include <memory>
#include <mutex>
#include <opencv2/core.hpp>
#include <string>
#include <vector>

#include "burstsieve/base/bytes.h"
#include "burstsieve/base/result.h"
#include "burstsieve/model/region.h"

namespace burstsieve::subject {

inline constexpr int kBirdCategory = 14;
inline constexpr const char* kDetectorSource = "detector";  // Subject::source

// How an animal came to be seen.
enum class Sight {
  whole,    // in the picture as a whole
  closer,   // on a second look at a part of it
  followed  // from an earlier frame of the burst (subject/track.h)
};

struct Detection {
  Region box;             // 0..1 of the picture given
  double confidence = 0;  // the network's score, DetectorLook::threshold..1
  int category = 0;       // of COCO's 80, counted from 0; an animal: 14 (bird) to 23
  Sight sight = Sight::whole;
  double track = 0;  // of Sight::followed: how surely, 0..1
  bool operator==(const Detection&) const = default;
};

// Of seven photographs without an animal none reached it, of 33 animals 29 did (docs/subject.md).
inline constexpr double kDetectorThreshold = .2;
// Longer side of what the network sees; a picture whose longer side is smaller is enlarged. The shorter side
// is what the picture needs, in steps of 32: of a 3:2 frame a third of the square would be margin, and cost.
inline constexpr int kDetectorSide = 416;
// Of a second look at a part of the frame: a quarter of the cost.
inline constexpr int kCropSide = 224;

struct DetectorLook {
  int side = kDetectorSide;               // pixels, a multiple of 32, 64..1024
  double threshold = kDetectorThreshold;  // (0,1]: least score
};

// One network with its working memory. Not thread-safe: one per worker (DetectorPool).
class Detector {
 public:
  // Cause::io when the file can't be read; Cause::unsupported when it is not the very model that
  // tools/setup.sh makes (another, or a damaged one: OpenCV's reader is not handed foreign bytes);
  // Cause::memory.
  static Result<std::unique_ptr<Detector>> load(const std::string& path);
  ~Detector();
  Detector(const Detector&) = delete;
  Detector& operator=(const Detector&) = delete;

  // Animals in an upright CV_8UC3 BGR picture of any size, birds first, then by confidence; parts and doubles
  // of one animal joined to one. Empty for an empty picture or one below 32 px. The same picture gives the
  // same answer, from every Detector of this machine. An Error (Cause::memory) only when OpenCV fails.
  Result<std::vector<Detection>> detect(const cv::Mat& bgr, const DetectorLook& look = {});

 private:
  friend class DetectorPool;
  static Result<std::unique_ptr<Detector>> from(std::shared_ptr<const ByteBuffer> model,
                                                const std::string& path);
  struct State;
  Detector();
  std::unique_ptr<State> state_;
};

// Detectors for the workers of a flow, made when first needed: as many as work at the same moment. Any
// thread.
class DetectorPool {
 public:
  // Reads the file and makes the first detector; errors as Detector::load().
  static Result<std::shared_ptr<DetectorPool>> load(const std::string& path);

  // Detector::detect() of one that is idle, or of a new one.
  Result<std::vector<Detection>> detect(const cv::Mat& bgr, const DetectorLook& look = {});

 private:
  DetectorPool() = default;
  Result<std::unique_ptr<Detector>> taken();
  std::string path_;
  std::shared_ptr<const ByteBuffer> model_;
  std::mutex mutex_;
  std::vector<std::unique_ptr<Detector>> idle_;
};

// What its answers go by in the catalogue: facts measured with another detector, or none, are others.
std::string detector_identity();

// Where tools/setup.sh puts the model: subject-detector.onnx in data_folder(). Empty when there is no such
// folder.
std::string detector_file();

// Boxes that mean one animal joined to one; birds first, then by confidence. A part (a wing, most of which
// lies in a larger box) gives way to the larger box unless that is a mere guess beside it, or holds two that
// lie apart: a group.
std::vector<Detection> without_doubles(std::vector<Detection> found);

}  // namespace burstsieve::subject
