#include <atomic>
#include <filesystem>
#include <mutex>
#include <opencv2/imgproc.hpp>
#include <thread>

#include "frame.h"
#include "looked.h"
#include "random.h"

namespace burstsieve::heads {
namespace {

namespace fs = std::filesystem;
using namespace generate;

// Rendered anew by itself: the frame does not keep the bird's outline.
cv::Mat outline_of(const BurstSpec& b, const FrameSpec& f) {
  cv::Mat out = cv::Mat::zeros(b.size, CV_8U);
  const Sprite s =
      render_bird(f.bird, {f.at.x * b.size.width, f.at.y * b.size.height}, f.scale, cv::Rect({0, 0}, b.size));
  if (s.area.empty()) return out;
  for (int y = 0; y < s.area.height; ++y)
    for (int x = 0; x < s.area.width; ++x)
      if (s.colour(y, x)[3] > .5f) out.at<std::uint8_t>(s.area.y + y, s.area.x + x) = 255;
  return out;
}

void one_burst(const BurstSpec& b, int number, const std::string& folder, subject::DetectorPool* detectors,
               std::vector<Sample>& out) {
  for (std::size_t i = 0; i < b.frames.size(); ++i) {
    const FrameSpec& f = b.frames[i];
    RenderedFrame rendered = render_frame(b, f);
    const auto files = photograph(b, f, rendered);
    const FrameTruth& t = rendered.truth;
    if (t.subject.empty()) continue;
    const std::string path = folder + "/" + std::to_string(number) + ".jpg";
    if (!write_file(path, files.front().bytes)) continue;
    auto s = looked_at(path, t.subject, outline_of(b, f), detectors, f.seed);
    if (!s) continue;
    s->kind = std::string(name_of(f.bird.species)) + " " + t.pose;
    s->burst = number;
    s->frame = static_cast<int>(i);
    const double w = b.size.width, h = b.size.height;
    s->head = {(t.head.centre_x() - s->crop.x) * w / s->per_pixel,
               (t.head.centre_y() - s->crop.y) * h / s->per_pixel};
    s->radius = .5 * std::max(t.head.w * w, t.head.h * h) / s->per_pixel;
    const bool over = f.bird.wing_over_head && f.bird.pose != Pose::perched;
    s->shown = t.head_visible                                 ? Shown::visible
               : over && !t.head.empty() && t.head.w * w > 10 ? Shown::hidden
                                                              : Shown::no;
    s->blur_px = total_blur(t);
    s->moved_px = t.motion_of == "pan" ? 0 : t.motion_px;
    s->faulty = t.blur_sigma_px > ruin_limits.blur_sigma_px ||
                (t.motion_of != "pan" && t.motion_px > ruin_limits.motion_px);
    out.push_back(std::move(*s));
  }
}

}  // namespace

Result<std::vector<Sample>> generated(std::uint64_t seed, int bursts, subject::DetectorPool* detectors,
                                      int threads, int width) {
  PlanOptions options;
  options.set = "season";
  options.seed = seed;
  options.bursts = bursts;
  options.width = width;
  options.height = width / 3 * 2;
  options.format = Format::jpeg;
  options.format_given = true;
  std::vector<BurstSpec> planned = plan(options);
  for (std::size_t i = 0; i < planned.size(); ++i) {
    Random random(derive(seed, 90000 + i));
    for (FrameSpec& f : planned[i].frames) {
      const bool flies = f.bird.pose == Pose::up || f.bird.pose == Pose::level || f.bird.pose == Pose::down;
      if (flies && random.chance(.3)) f.bird.wing_over_head = true;
    }
  }
  char name[] = "/tmp/burstsieve-heads-XXXXXX";
  if (!mkdtemp(name)) return Error{Cause::io, name, "can't make a temporary folder"};
  std::vector<std::vector<Sample>> found(planned.size());
  std::atomic<std::size_t> next{0};
  const auto work = [&] {
    for (std::size_t i = next++; i < planned.size(); i = next++)
      one_burst(planned[i], static_cast<int>(i), name, detectors, found[i]);
  };
  std::vector<std::thread> pool;
  for (int i = 1; i < threads; ++i) pool.emplace_back(work);
  work();
  for (std::thread& t : pool) t.join();
  std::error_code ignored;
  fs::remove_all(name, ignored);
  std::vector<Sample> out;
  for (auto& f : found)
    for (auto& s : f) out.push_back(std::move(s));
  return out;
}

}  // namespace burstsieve::heads
