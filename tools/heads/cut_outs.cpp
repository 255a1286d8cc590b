#include <filesystem>
#include <fstream>
#include <opencv2/imgcodecs.hpp>
#include <opencv2/imgproc.hpp>
#include <sstream>

#include "backdrop.h"
#include "looked.h"
#include "random.h"

namespace burstsieve::heads {
namespace {

struct Line {
  std::string name, use;
  bool hidden = false;
  double x = 0, y = 0, radius = 0;
};

Result<std::vector<Line>> lines_of(const std::string& file) {
  std::ifstream in(file);
  if (!in) return Error{Cause::io, file, "can't be read"};
  std::vector<Line> out;
  for (std::string text; std::getline(in, text);) {
    if (text.empty() || text[0] == '#') continue;
    std::istringstream words(text);
    Line line;
    std::string x;
    words >> line.name >> line.use >> x;
    line.hidden = x == "hidden";
    if (!line.hidden) line.x = std::stod(x), words >> line.y >> line.radius;
    if (!words && !line.hidden) return Error{Cause::corrupt, file, "bad line: " + text};
    out.push_back(line);
  }
  return out;
}

const cv::Size kFrame(900, 600);

// A rendered backdrop, out of focus, as 8-bit BGR.
cv::Mat backdrop(generate::Random& random) {
  const auto scene = static_cast<generate::Scene>(random.below(5));
  cv::Mat3f light = generate::render_backdrop(scene, kFrame, random.uniform(0, 3), 0, random.uniform(3, 12),
                                              static_cast<std::uint32_t>(random.below(1000000)));
  cv::Mat out(kFrame, CV_8UC3);
  for (int y = 0; y < out.rows; ++y)
    for (int x = 0; x < out.cols; ++x)
      for (int c = 0; c < 3; ++c)
        out.at<cv::Vec3b>(y, x)[c] = cv::saturate_cast<std::uint8_t>(
            255 * std::pow(std::max(0.0, 1.15 * static_cast<double>(light(y, x)[2 - c])), 1 / 2.2));
  return out;
}

}  // namespace

Result<std::vector<Sample>> cut_outs(const std::string& folder, const std::string& truth,
                                     const std::string& use, int variants, std::uint64_t seed,
                                     subject::DetectorPool* detectors) {
  const auto lines = lines_of(truth);
  if (!lines) return lines.error();
  char name[] = "/tmp/burstsieve-heads-XXXXXX";
  if (!mkdtemp(name)) return Error{Cause::io, name, "can't make a temporary folder"};
  std::vector<Sample> out;
  int number = 0;
  for (const Line& line : *lines) {
    ++number;
    if (line.use != use) continue;
    const cv::Mat bird = cv::imread(folder + "/" + line.name, cv::IMREAD_UNCHANGED);
    if (bird.empty() || bird.channels() != 4) return Error{Cause::io, folder + "/" + line.name, "no cut-out"};
    for (int v = 0; v < variants; ++v) {
      generate::Random random(generate::derive(seed, static_cast<std::uint64_t>(number * 1000 + v)));
      // Hardly larger than it is: what is enlarged is soft.
      const double longest = std::max(bird.cols, bird.rows);
      const double scale = std::min(1.25, random.uniform(190, 330) / longest) * random.uniform(.8, 1);
      cv::Mat sized;
      cv::resize(bird, sized, {}, scale, scale, scale < 1 ? cv::INTER_AREA : cv::INTER_CUBIC);
      const bool mirrored = v % 2 == 1;
      if (mirrored) cv::flip(sized, sized, 1);
      cv::Mat frame = backdrop(random), mask = cv::Mat::zeros(kFrame, CV_8U);
      const cv::Point at(static_cast<int>(random.uniform(20, frame.cols - sized.cols - 20)),
                         static_cast<int>(random.uniform(20, frame.rows - sized.rows - 20)));
      cv::Rect box;
      for (int y = 0; y < sized.rows; ++y)
        for (int x = 0; x < sized.cols; ++x) {
          const auto& p = sized.at<cv::Vec4b>(y, x);
          auto& q = frame.at<cv::Vec3b>(at.y + y, at.x + x);
          for (int c = 0; c < 3; ++c)
            q[c] = cv::saturate_cast<std::uint8_t>((p[c] * p[3] + q[c] * (255 - p[3])) / 255);
          if (p[3] < 128) continue;
          mask.at<std::uint8_t>(at.y + y, at.x + x) = 255;
          const cv::Rect one(at.x + x, at.y + y, 1, 1);
          box = box.empty() ? one : box | one;
        }
      cv::Mat grain(kFrame, CV_16SC3);
      cv::RNG rng(seed + static_cast<std::uint64_t>(v));
      rng.fill(grain, cv::RNG::NORMAL, 0, random.uniform(.5, 4));
      cv::add(frame, grain, frame, cv::noArray(), CV_8U);
      const std::string path = std::string(name) + "/x.jpg";
      cv::imwrite(path, frame, {cv::IMWRITE_JPEG_QUALITY, 92});
      const double w = frame.cols, h = frame.rows;
      auto s = looked_at(path, {box.x / w, box.y / h, box.width / w, box.height / h}, mask, detectors,
                         seed + static_cast<std::uint64_t>(number * 100 + v));
      if (!s) continue;
      s->kind = "cut-out " + line.name.substr(0, line.name.size() - 4);
      s->burst = -number;
      s->frame = v;
      s->shown = line.hidden ? Shown::hidden : Shown::visible;
      const double x = at.x + scale * (mirrored ? bird.cols - line.x : line.x), y = at.y + scale * line.y;
      s->head = {(x - s->crop.x * w) / s->per_pixel, (y - s->crop.y * h) / s->per_pixel};
      s->radius = scale * line.radius / s->per_pixel;
      s->blur_px = .6;
      out.push_back(std::move(*s));
    }
  }
  std::error_code ignored;
  std::filesystem::remove_all(name, ignored);
  return out;
}

}  // namespace burstsieve::heads
