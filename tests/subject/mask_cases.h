// Animals whose outline is known: rendered birds, and photographed birds with an alpha channel (cut-outs of
// the package tuxpaint-stamps-default) set into photographs. Each goes through a JPEG file as a camera's
// frame does.
#pragma once
#include <algorithm>
#include <filesystem>
#include <fstream>
#include <opencv2/imgcodecs.hpp>
#include <opencv2/imgproc.hpp>
#include <optional>
#include <string>
#include <vector>

#include "base/temp_folder.h"
#include "base/test_data.h"
#include "burstsieve/decode/pixels.h"
#include "burstsieve/image/activity.h"
#include "burstsieve/image/orientation.h"
#include "burstsieve/model/measure.h"
#include "burstsieve/subject/energy_map.h"
#include "frame.h"

namespace burstsieve::test {

struct MaskCase {
  std::string name;
  decode::Planes planes;
  cv::Mat1b truth;  // upright, full size, 255 = animal
  Region box;       // around the truth
};

// What a run knows of the frame when it asks for a mask.
struct Seen {
  cv::Mat eighth, activity, energy;
  explicit Seen(const decode::Planes& planes)
      : eighth(decode::eighth_colour(planes)),
        activity(image::activity_map(planes.luma)),
        energy(subject::energy_map(image::upright(activity, planes.orientation))) {}
};

inline Region box_of(const cv::Mat1b& truth) {
  const cv::Rect r = cv::boundingRect(truth);
  const double w = truth.cols, h = truth.rows;
  return {r.x / w, r.y / h, r.width / w, r.height / h};
}

inline decode::Planes planes_of_jpeg(const std::vector<unsigned char>& bytes, int orientation) {
  static const TempFolder folder(in_memory());
  FileRef file;
  file.path = folder.at("case.jpg");
  std::ofstream(file.path, std::ios::binary)
      .write(reinterpret_cast<const char*>(bytes.data()), static_cast<std::streamsize>(bytes.size()));
  file.format = "JPEG";
  file.size = bytes.size();
  auto planes = decode::decode_planes(file, orientation, Limits{});
  return planes ? std::move(*planes) : decode::Planes{};
}

inline MaskCase rendered_case(generate::BurstSpec burst, const generate::FrameSpec& spec) {
  burst.format = generate::Format::jpeg;
  generate::RenderedFrame frame = generate::render_frame(burst, spec);
  MaskCase out;
  out.name = burst.name + " " + frame.truth.pose + " " + frame.truth.focus_on;
  out.truth = frame.subject_mask.clone();
  const auto files = generate::photograph(burst, spec, frame);
  out.planes = planes_of_jpeg(files.at(0).bytes, burst.orientation);
  cv::Mat up = image::upright(out.truth, burst.orientation);
  out.truth = up;
  out.box = box_of(out.truth);
  return out;
}

// One frame of each burst of a set, those of a season with their faults.
inline std::vector<MaskCase> rendered_cases(const std::string& set, std::uint64_t seed, int bursts) {
  generate::PlanOptions options;
  options.set = set;
  options.seed = seed;
  options.bursts = bursts;
  std::vector<MaskCase> out;
  std::size_t k = 0;
  for (const auto& burst : generate::plan(options)) {
    const auto& spec = burst.frames[k++ % burst.frames.size()];
    out.push_back(rendered_case(burst, spec));
  }
  return out;
}

inline std::vector<std::string> bird_stamps() {
  namespace fs = std::filesystem;
  std::vector<std::string> out;
  const std::string birds = data_cache() + "/tuxpaint-stamps-default/usr/share/tuxpaint/stamps/animals/birds";
  if (fs::exists(birds))
    for (const auto& e : fs::directory_iterator(birds))
      if (e.path().extension() == ".png") out.push_back(e.path().string());
  std::sort(out.begin(), out.end());
  return out;
}

// Sharp, blurred and textured ones.
inline std::vector<std::string> real_backdrops() {
  const std::string mate = data_cache() + "/mate-backgrounds/usr/share/backgrounds/mate/nature/";
  const std::string lomiri = data_cache() + "/lomiri-wallpapers-16.04/usr/share/backgrounds/";
  const std::string skimage = data_cache() + "/python3-skimage/usr/lib/python3/dist-packages/skimage/data/";
  const std::string sklearn =
      data_cache() + "/python3-sklearn/usr/lib/python3/dist-packages/sklearn/datasets/images/";
  return {mate + "Garden.jpg",
          mate + "GreenMeadow.jpg",
          lomiri + "seeding_by_Clements_Engelhardt.jpg",
          mate + "Wood.jpg",
          skimage + "grass.png",
          sklearn + "flower.jpg",
          mate + "Dune.jpg",
          sklearn + "china.jpg",
          skimage + "gravel.png",
          mate + "Storm.jpg",
          lomiri + "Bridge_by_Sander_Klootwijk.jpg",
          mate + "RainDrops.jpg"};
}

struct Composition {
  cv::Size frame{1500, 1000};
  int width = 420;            // of the bird; a high one is 1.2 times that high
  cv::Point2d at{.5, .5};     // centre
  double bird_sigma = 0;      // px
  double backdrop_sigma = 0;  // px
  double noise = 2;           // codes
  int orientation = 1;
  unsigned seed = 1;
};

// Nothing when a file is missing or the stamp has no alpha channel.
inline std::optional<MaskCase> composed_case(const std::string& stamp, const std::string& backdrop,
                                             const Composition& c) {
  cv::Mat cut = cv::imread(stamp, cv::IMREAD_UNCHANGED), ground = cv::imread(backdrop, cv::IMREAD_COLOR);
  if (cut.channels() != 4 || ground.empty()) return std::nullopt;
  cv::resize(ground, ground, c.frame, 0, 0, cv::INTER_AREA);
  if (c.backdrop_sigma > 0) cv::GaussianBlur(ground, ground, {}, c.backdrop_sigma);
  const double scale = std::min(static_cast<double>(c.width) / cut.cols, 1.2 * c.width / cut.rows);
  cv::Mat4f bird;
  cut.convertTo(bird, CV_32F, 1 / 255.);
  for (auto& p : bird)
    for (int k = 0; k < 3; ++k) p[k] *= p[3];
  cv::Mat small;
  cv::resize(bird, small, {}, scale, scale, scale < 1 ? cv::INTER_AREA : cv::INTER_CUBIC);
  cv::Mat4f layer(c.frame, cv::Vec4f::all(0));
  const cv::Point tl(static_cast<int>(c.at.x * c.frame.width - small.cols / 2.0),
                     static_cast<int>(c.at.y * c.frame.height - small.rows / 2.0));
  const cv::Rect want(tl, small.size()), have = want & cv::Rect(cv::Point(0, 0), c.frame);
  small(have - tl).copyTo(layer(have));
  cv::Mat blurred = layer;
  if (c.bird_sigma > 0) cv::GaussianBlur(layer, blurred, {}, c.bird_sigma);
  layer = blurred;
  cv::Mat3f picture;
  ground.convertTo(picture, CV_32F);
  cv::Mat3f grain(c.frame);
  cv::RNG(c.seed).fill(grain, cv::RNG::NORMAL, 0, c.noise);
  MaskCase out;
  out.name =
      std::filesystem::path(stamp).stem().string() + " / " + std::filesystem::path(backdrop).stem().string();
  out.truth.create(c.frame);
  for (int y = 0; y < c.frame.height; ++y)
    for (int x = 0; x < c.frame.width; ++x) {
      const cv::Vec4f p = layer(y, x);
      const float a = std::clamp(p[3], 0.f, 1.f);
      for (int k = 0; k < 3; ++k)
        picture(y, x)[k] = picture(y, x)[k] * (1 - a) + 255 * std::clamp(p[k], 0.f, 1.f) + grain(y, x)[k];
      out.truth(y, x) = a > .5f ? 255 : 0;
    }
  cv::Mat codes;
  picture.convertTo(codes, CV_8U);
  std::vector<unsigned char> bytes;
  cv::imencode(".jpg", codes, bytes, {cv::IMWRITE_JPEG_QUALITY, 90});
  out.planes = planes_of_jpeg(bytes, 1);
  out.box = box_of(out.truth);
  return out;
}

// Intersection over union of the mask with the truth, both sampled at the truth's pixels.
inline double iou(const CellMask& mask, const cv::Mat1b& truth) {
  double both = 0, any = 0;
  for (int y = 0; y < truth.rows; y += 2)
    for (int x = 0; x < truth.cols; x += 2) {
      const bool a = mask.holds((x + .5) / truth.cols, (y + .5) / truth.rows), b = truth(y, x) != 0;
      both += a && b;
      any += a || b;
    }
  return any > 0 ? both / any : 0;
}

inline double quantile_of(std::vector<double> v, double q) {
  if (v.empty()) return 0;
  std::sort(v.begin(), v.end());
  return v[static_cast<std::size_t>(q * static_cast<double>(v.size() - 1))];
}

}  // namespace burstsieve::test
