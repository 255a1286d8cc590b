#include "looked.h"

#include <opencv2/imgproc.hpp>

#include "burstsieve/base/file_system.h"
#include "burstsieve/decode/metadata.h"
#include "burstsieve/decode/pixels.h"
#include "burstsieve/image/activity.h"
#include "burstsieve/image/orientation.h"
#include "burstsieve/measure/focus_map.h"
#include "burstsieve/measure/subjects.h"
#include "burstsieve/subject/energy_map.h"
#include "burstsieve/subject/finder.h"
#include "burstsieve/subject/head.h"
#include "random.h"

namespace burstsieve::heads {

std::optional<Sample> looked_at(const std::string& path, const Region& truth, const cv::Mat& full_mask,
                                subject::DetectorPool* detectors, std::uint64_t seed) {
  generate::Random random(generate::derive(seed, 31));
  const Limits limits;
  RealFileSystem files;
  FileRef file;
  file.path = path;
  file.kind = FileKind::jpeg;
  file.format = "JPEG";
  const auto bytes = files.read_file(path, limits.max_file_bytes);
  if (!bytes) return std::nullopt;
  file.size = bytes->size();
  auto capture = decode::read_capture(file, limits);
  if (!capture) capture = Capture{};
  const auto planes = decode::decode_planes(file, capture->orientation, limits);
  if (!planes) return std::nullopt;
  const Capture blind;  // no focus area
  const cv::Mat eighth = decode::eighth_colour(*planes);
  const cv::Mat activity = image::activity_map(planes->luma);
  const cv::Mat energy = subject::energy_map(image::upright(activity, planes->orientation));
  const subject::Glance now = subject::glance_at(eighth);
  std::vector<subject::Detection> detections;
  if (detectors)
    if (auto found = detectors->detect(decode::picture_of(*planes, eighth, subject::kDetectorSide)))
      detections = std::move(*found);
  const auto subjects =
      subject::find_subjects({&eighth, &energy, &blind, &now, nullptr, detectors ? &detections : nullptr});
  Sample out;
  for (const Subject& s : subjects)
    if (overlap(s.box, truth) >= .5 && out.box.empty()) out.box = s.box;
  if (out.box.empty()) {
    const auto shaken = [&](double side) { return side * random.uniform(-.06, .06); };
    const double l = truth.x + shaken(truth.w), t = truth.y + shaken(truth.h),
                 r = truth.right() + shaken(truth.w), b = truth.bottom() + shaken(truth.h);
    out.box = clamped({l, t, r - l, b - t});
  }
  const subject::HeadCrop crop = subject::head_crop(*planes, out.box);
  if (crop.bgr.empty()) return std::nullopt;
  out.bgr = crop.bgr.clone();
  out.crop = crop.where;
  out.frame_width = planes->upright_width();
  out.frame_height = planes->upright_height();
  out.mask = subject::mask_over(subject::subject_mask(energy, out.box), crop.where, crop.bgr.size());
  const double w = planes->upright_width(), h = planes->upright_height();
  const cv::Rect there(cvRound(crop.where.x * w), cvRound(crop.where.y * h), cvRound(crop.where.w * w),
                       cvRound(crop.where.h * h));
  out.per_pixel = static_cast<double>(there.width) / crop.bgr.cols;
  cv::Mat cut = full_mask(there & cv::Rect({0, 0}, full_mask.size())).clone();
  cv::resize(cut, out.mask_true, crop.bgr.size(), 0, 0, cv::INTER_AREA);
  out.mask_true = out.mask_true > 127;

  const auto focus = measure::upright(measure::focus_map(planes->luma, activity), planes->orientation);
  const measure::Picture seen{*planes, activity, blind, focus};
  Subject subject;
  subject.box = out.box;
  const auto blur_of = [&] {
    const auto read = measure::edge_blur(measure::subject_detail(seen, subject));
    return read.confidence >= .5 ? read.sigma : 0;
  };
  out.blur_of_all = out.blur_of_head = blur_of();
  const auto found = subject::find_head({{out.bgr, out.crop}, out.mask, out.box, std::nullopt});
  if (found.view == HeadView::visible) subject.head = found.head, out.blur_of_head = blur_of();
  return out;
}

}  // namespace burstsieve::heads
