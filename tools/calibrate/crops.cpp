#include "crops.h"

#include <atomic>
#include <thread>

#include "burstsieve/image/activity.h"
#include "burstsieve/measure/instrument.h"
#include "cases.h"
#include "expected.h"
#include "measure/motion_cases.h"

namespace burstsieve::calibrate {
namespace {

std::vector<Measure> measured(const cv::Mat& luma, const Region& box, const Region& focus) {
  decode::Planes planes;
  planes.luma = luma;
  planes.source = "jpeg";
  const cv::Mat activity = image::activity_map(luma);
  const Capture capture;
  measure::PixelInput input{&planes, &activity, &capture, {box, std::nullopt, .9, "given"}, {}, {}};
  input.detail = measure::gather_detail(luma, activity, 1, focus);
  return measure::measure_pixels(input);
}

void motion_samples(const motion_cases::Set& set, int index, std::vector<Sample>& out) {
  const motion_cases::Case c = set.at(index);
  const Region& b = c.box;
  const auto find_and_judge = [&](const std::vector<Measure>& all, const char* px, const char* deg,
                                  double length, double degrees) {
    const Measure* m = find(all, px);
    if (!m || m->confidence <= 0) return;
    out.push_back(judged_value(*m, length));
    const Measure* d = find(all, deg);
    if (d && length > 0) out.push_back(judged_value(*d, degrees));
  };
  const auto all = measured(c.luma, b, {b.x + .2 * b.w, b.y + .2 * b.h, .6 * b.w, .6 * b.h});
  find_and_judge(all, "motion_px", "motion_deg", c.length, c.degrees);
  find_and_judge(all, "background_motion_px", "background_motion_deg", c.background_length,
                 c.background_degrees);
}

void blur_samples(std::uint64_t number, std::vector<Sample>& out) {
  const compare::Case c = compare::blur_case(number);
  for (const Measure& m : measured(c.luma, c.region, c.region))
    if (m.id == "blur_sigma_px" && m.confidence > 0) out.push_back(judged_value(m, c.sigma));
}

}  // namespace

std::vector<Sample> samples_of_crops(const OutingOptions& options) {
  const bool tuning = options.seed < 100;
  const auto set = tuning ? motion_cases::tuning() : motion_cases::held_out();
  const int count = 2 * options.bursts;
  const auto start = static_cast<int>(options.seed % 100) * 100'000;
  const auto first_blur = (tuning ? 10'000 : compare::kFirstHeldOut) + 1000 * (options.seed % 100);
  std::vector<std::vector<Sample>> found(static_cast<std::size_t>(count));
  std::atomic<int> next{0};
  const auto work = [&] {
    for (int i = next++; i < count; i = next++) {
      auto& out = found[static_cast<std::size_t>(i)];
      motion_samples(set, start + i, out);
      blur_samples(first_blur + static_cast<std::uint64_t>(i), out);
      for (Sample& s : out) s.burst = -1;
    }
  };
  std::vector<std::thread> pool;
  for (int i = 1; i < options.threads; ++i) pool.emplace_back(work);
  work();
  for (std::thread& t : pool) t.join();
  std::vector<Sample> out;
  for (auto& samples : found) out.insert(out.end(), samples.begin(), samples.end());
  return out;
}

}  // namespace burstsieve::calibrate
