#include "burstsieve/subject/detector.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <deque>
#include <exception>
#include <opencv2/dnn.hpp>
#include <opencv2/imgproc.hpp>
#include <utility>

#include "burstsieve/base/data_folder.h"
#include "burstsieve/base/text.h"
#include "detector_model.h"

namespace burstsieve::subject {
namespace {

constexpr std::array kStrides{8, 16, 32};
constexpr int kCategories = 80, kBins = 11;
constexpr int kFirstAnimal = 14, kLastAnimal = 23;
// Smaller pictures hold no bird that anybody could name.
constexpr int kLeastSide = 32;
// The training's normalisation of B, G, R (NanoDet, configuration of the 416 model).
constexpr std::array kMean{103.53f, 116.28f, 123.675f}, kDeviation{57.375f, 57.12f, 58.395f};
constexpr double kMargin = 114;  // grey around a picture that is not square

// Networks that one Detector keeps: the whole frame upright and lying, and crops. A network is made anew for
// every size: OpenCV sets up its layers again when the size changes.
constexpr std::size_t kMostNetworks = 4;

// The picture laid into what the network sees.
struct Letterbox {
  cv::Mat seen;    // CV_8UC3
  cv::Rect inner;  // where the picture lies
};

Letterbox letterboxed(const cv::Mat& bgr, int longest) {
  const double scale = static_cast<double>(longest) / std::max(bgr.cols, bgr.rows);
  const auto side = [&](int length) {
    return std::clamp(static_cast<int>(std::lround(length * scale)), 1, longest);
  };
  const auto framed = [](int length) {
    return (length + kStrides.back() - 1) / kStrides.back() * kStrides.back();
  };
  Letterbox out;
  out.inner = {0, 0, side(bgr.cols), side(bgr.rows)};
  out.seen = cv::Mat(framed(out.inner.height), framed(out.inner.width), CV_8UC3, cv::Scalar::all(kMargin));
  out.inner.x = (out.seen.cols - out.inner.width) / 2;
  out.inner.y = (out.seen.rows - out.inner.height) / 2;
  cv::Mat inner = out.seen(out.inner);
  cv::resize(bgr, inner, out.inner.size(), 0, 0, scale < 1 ? cv::INTER_AREA : cv::INTER_LINEAR);
  return out;
}

cv::Mat network_input(const cv::Mat& seen) {
  const int shape[]{1, 3, seen.rows, seen.cols};
  cv::Mat out(4, shape, CV_32F);
  for (int c = 0; c < 3; ++c)
    for (int y = 0; y < seen.rows; ++y) {
      const auto* from = seen.ptr<cv::Vec3b>(y);
      float* to = out.ptr<float>(0, c) + static_cast<std::ptrdiff_t>(y) * seen.cols;
      const auto i = static_cast<std::size_t>(c);
      for (int x = 0; x < seen.cols; ++x) to[x] = (static_cast<float>(from[x][c]) - kMean[i]) / kDeviation[i];
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
void read_stride(const cv::Mat& scores, const cv::Mat& distances, int stride, const Letterbox& seen,
                 double threshold, std::vector<Detection>& out) {
  const cv::Rect& inner = seen.inner;
  const int cols = seen.seen.cols / stride, rows = seen.seen.rows / stride;
  for (int i = 0; i < cols * rows; ++i) {
    const float* row = scores.ptr<float>() + i * kCategories;
    const float* best = std::max_element(row + kFirstAnimal, row + kLastAnimal + 1);
    if (!(*best >= static_cast<float>(threshold))) continue;
    const float* bins = distances.ptr<float>() + i * 4 * kBins;
    const double x = (i % cols + .5), y = (i / cols + .5);
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
  struct Sized {
    cv::Size size;
    cv::dnn::Net net;
  };
  std::shared_ptr<const ByteBuffer> model;
  std::deque<Sized> nets;  // the newest last

  cv::dnn::Net& sized(cv::Size size) {
    for (Sized& s : nets)
      if (s.size == size) return s.net;
    if (nets.size() >= kMostNetworks) nets.pop_front();
    Sized& made = nets.emplace_back();
    made.size = size;
    made.net = cv::dnn::readNetFromONNX(reinterpret_cast<const char*>(model->data()), model->size());
    made.net.setPreferableBackend(cv::dnn::DNN_BACKEND_OPENCV);
    made.net.setPreferableTarget(cv::dnn::DNN_TARGET_CPU);
    return made.net;
  }
};

Detector::Detector() : state_(std::make_unique<State>()) {}
Detector::~Detector() = default;

Result<std::unique_ptr<Detector>> Detector::load(const std::string& path) {
  auto model = read_detector_model(path);
  if (!model) return model.error();
  return from(std::make_shared<const ByteBuffer>(std::move(*model)), path);
}

Result<std::unique_ptr<Detector>> Detector::from(std::shared_ptr<const ByteBuffer> model,
                                                 const std::string& path) {
  try {
    std::unique_ptr<Detector> out(new Detector);
    out->state_->model = std::move(model);
    // Read here, so that what can't be read is an error of loading.
    (void)out->state_->sized({kCropSide, kCropSide});
    return out;
  } catch (const std::exception& e) {
    return Error{Cause::memory, path, "could not be loaded (" + one_line(e.what()) + ")"};
  }
}

Result<std::vector<Detection>> Detector::detect(const cv::Mat& bgr, const DetectorLook& look) {
  std::vector<Detection> found;
  if (bgr.empty() || bgr.type() != CV_8UC3 || std::max(bgr.cols, bgr.rows) < kLeastSide) return found;
  try {
    static const std::vector<cv::String> kOutputs{"scores8",    "scores16",    "scores32",
                                                  "distances8", "distances16", "distances32"};
    const Letterbox seen = letterboxed(bgr, look.side);
    cv::dnn::Net& net = state_->sized(seen.seen.size());
    std::vector<cv::Mat> outputs;
    net.setInput(network_input(seen.seen));
    net.forward(outputs, kOutputs);
    for (std::size_t i = 0; i < kStrides.size(); ++i)
      read_stride(outputs[i], outputs[i + kStrides.size()], kStrides[i], seen, look.threshold, found);
  } catch (const std::exception& e) {
    return Error{Cause::memory, {}, "the subject detector failed (" + one_line(e.what()) + ")"};
  }
  return without_doubles(std::move(found));
}

Result<std::shared_ptr<DetectorPool>> DetectorPool::load(const std::string& path) {
  auto model = read_detector_model(path);
  if (!model) return model.error();
  std::shared_ptr<DetectorPool> out(new DetectorPool);
  out->path_ = path;
  out->model_ = std::make_shared<const ByteBuffer>(std::move(*model));
  auto first = Detector::from(out->model_, path);
  if (!first) return first.error();
  // Once, so that what OpenCV sets up at the first run is there before a sandbox.
  if (auto tried =
          (*first)->detect(cv::Mat(kLeastSide, kLeastSide, CV_8UC3, cv::Scalar::all(0)), {kCropSide});
      !tried)
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

Result<std::vector<Detection>> DetectorPool::detect(const cv::Mat& bgr, const DetectorLook& look) {
  auto detector = taken();
  if (!detector) return detector.error();
  auto found = (*detector)->detect(bgr, look);
  const std::lock_guard lock(mutex_);
  idle_.push_back(std::move(*detector));
  return found;
}

std::string detector_identity() {
  return std::string("nanodet-g ") + kDetectorChecksum;
}

std::string detector_file() {
  const auto folder = data_folder();
  return folder ? *folder + "/subject-detector.onnx" : std::string();
}

}  // namespace burstsieve::subject
