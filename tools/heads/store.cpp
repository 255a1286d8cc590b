#include <filesystem>
#include <fstream>
#include <opencv2/imgcodecs.hpp>
#include <sstream>

#include "sample.h"

namespace burstsieve::heads {

Status store(const std::string& folder, const std::vector<Sample>& samples) {
  std::error_code failed;
  std::filesystem::create_directories(folder, failed);
  std::ofstream index(folder + "/index.tsv");
  index.precision(17);
  for (std::size_t i = 0; i < samples.size(); ++i) {
    const Sample& s = samples[i];
    const std::string stem = folder + "/" + std::to_string(i);
    cv::imwrite(stem + ".png", s.bgr);
    cv::imwrite(stem + "-mask.png", s.mask);
    cv::imwrite(stem + "-true.png", s.mask_true);
    index << s.kind << '\t' << s.burst << '\t' << s.frame << '\t' << static_cast<int>(s.shown);
    for (const double v :
         {s.crop.x, s.crop.y, s.crop.w, s.crop.h, s.box.x, s.box.y, s.box.w, s.box.h, s.head.x, s.head.y,
          s.radius, s.blur_px, s.per_pixel, s.moved_px, s.blur_of_all, s.blur_of_head})
      index << '\t' << v;
    index << '\t' << s.frame_width << '\t' << s.frame_height << '\t' << s.faulty << '\n';
  }
  index.flush();
  if (!index) return Error{Cause::io, folder, "can't be written"};
  return Done{};
}

Result<std::vector<Sample>> load(const std::string& folder) {
  std::ifstream index(folder + "/index.tsv");
  if (!index) return Error{Cause::io, folder, "no samples"};
  std::vector<Sample> out;
  for (std::string line; std::getline(index, line);) {
    Sample s;
    std::istringstream in(line);
    std::getline(in, s.kind, '\t');
    int shown = 0;
    in >> s.burst >> s.frame >> shown;
    s.shown = static_cast<Shown>(shown);
    for (double* v :
         {&s.crop.x, &s.crop.y, &s.crop.w, &s.crop.h, &s.box.x, &s.box.y, &s.box.w, &s.box.h, &s.head.x,
          &s.head.y, &s.radius, &s.blur_px, &s.per_pixel, &s.moved_px, &s.blur_of_all, &s.blur_of_head})
      in >> *v;
    in >> s.frame_width >> s.frame_height >> s.faulty;
    const std::string stem = folder + "/" + std::to_string(out.size());
    s.bgr = cv::imread(stem + ".png", cv::IMREAD_COLOR);
    s.mask = cv::imread(stem + "-mask.png", cv::IMREAD_GRAYSCALE);
    s.mask_true = cv::imread(stem + "-true.png", cv::IMREAD_GRAYSCALE);
    if (!in || s.bgr.empty() || s.mask.empty()) return Error{Cause::corrupt, folder, "damaged sample"};
    out.push_back(std::move(s));
  }
  return out;
}

}  // namespace burstsieve::heads
