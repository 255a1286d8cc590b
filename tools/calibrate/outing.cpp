#include "outing.h"

#include <algorithm>
#include <array>
#include <atomic>
#include <cmath>
#include <filesystem>
#include <mutex>
#include <optional>
#include <thread>

#include "burstsieve/decode/metadata.h"
#include "burstsieve/pipeline/frame_work.h"
#include "expected.h"
#include "random.h"

namespace burstsieve::calibrate {
namespace {

namespace fs = std::filesystem;
using generate::BurstSpec;

// Faults spread evenly over their range, where a season has a few: curves need all of it.
void spread_faults(BurstSpec& burst, generate::Random& random) {
  using generate::MotionOf;
  // A background that lies in focus shows the camera's own motion; a long lens seldom leaves one.
  if (random.chance(.6)) burst.backdrop_sigma = random.uniform(.6, 2.5);
  for (auto& f : burst.frames) {
    f.defocus_sigma = f.motion_px = 0;
    f.motion_of = MotionOf::none;
    f.focus_on = generate::FocusOn::subject;
    f.exposure_ev = random.uniform(-1.2, 1.6);
    const int fault = random.below(4);
    if (fault == 1 || fault == 2) f.defocus_sigma = .4 * std::exp(random.uniform(0, std::log(12.5)));
    if (fault != 3) continue;
    f.motion_of = std::array{MotionOf::subject, MotionOf::camera,
                             MotionOf::pan}[static_cast<std::size_t>(random.below(3))];
    f.motion_px = 3 * std::exp(random.uniform(0, std::log(10.0)));
    f.motion_deg = random.uniform(-90, 90);
  }
}

std::vector<BurstSpec> planned(const OutingOptions& options) {
  generate::PlanOptions season;
  season.set = "season";
  season.seed = options.seed;
  season.bursts = options.bursts;
  std::vector<BurstSpec> out = generate::plan(season);
  for (std::size_t i = 0; i < out.size(); i += 2) {
    generate::Random random(generate::derive(options.seed, 5000 + i));
    spread_faults(out[i], random);
  }
  generate::PlanOptions depth;
  depth.set = "depth";
  depth.seed = options.seed;
  depth.bursts = std::max(1, options.bursts / 4);
  for (BurstSpec& b : generate::plan(depth)) out.push_back(std::move(b));
  generate::PlanOptions several = depth;
  several.set = "several";
  for (BurstSpec& b : generate::plan(several)) out.push_back(std::move(b));
  for (std::size_t i = 0; i < out.size(); ++i) {
    generate::Random random(generate::derive(options.seed, 7000 + i));
    out[i].rendering = {random.uniform(0, .8), random.uniform(0, .4)};
    out[i].quality = static_cast<int>(random.uniform(80, 96));
  }
  return out;
}

Result<Frame> written(const std::vector<generate::FileBytes>& files, const std::string& folder,
                      const Limits& limits) {
  Frame frame;
  for (const auto& file : files) {
    FileRef ref;
    ref.path = folder + "/" + file.name;
    if (Status s = generate::write_file(ref.path, file.bytes); !s) return s.error();
    ref.kind = file.name.ends_with(".JPG") ? FileKind::jpeg : FileKind::raw;
    ref.format = ref.kind == FileKind::jpeg ? "JPEG" : "DNG";
    ref.size = file.bytes.size();
    auto capture = decode::read_capture(ref, limits);
    if (!capture) return capture.error();
    if (ref.kind == FileKind::jpeg) frame.jpeg_orientation = capture->orientation;
    if (ref.kind == FileKind::raw || !frame.raw) frame.capture = std::move(*capture);
    (ref.kind == FileKind::jpeg ? frame.jpeg : frame.raw) = ref;
  }
  return frame;
}

Result<std::vector<Sample>> samples_of_burst(const BurstSpec& burst, const std::string& folder) {
  std::vector<Sample> out;
  const Limits limits;
  pipeline::Trail trail;
  for (const auto& spec : burst.frames) {
    generate::RenderedFrame rendered = generate::render_frame(burst, spec);
    const SceneTruth scene = scene_truth(rendered, burst.orientation);
    const auto files = generate::photograph(burst, spec, rendered);
    auto frame = written(files, folder, limits);
    if (!frame) return frame.error();
    auto work = pipeline::FrameWork::decoded(*frame, limits);
    work->follow(trail);
    FrameFacts facts = work->measured(*frame);
    const auto add = [&](const FrameFacts& f, bool sensor_only) {
      for (Sample& s : judged(f, spec, rendered.truth, scene))
        if (!sensor_only || s.sensor) out.push_back(std::move(s));
    };
    add(facts, false);
    if (frame->raw && pipeline::measure_highlights(*frame, facts, limits).read) add(facts, true);
    for (const auto& file : files) fs::remove(folder + "/" + file.name);
  }
  return out;
}

}  // namespace

Result<std::vector<Sample>> samples_of_outing(const OutingOptions& options, const std::string& folder,
                                              const std::function<void(std::size_t, std::size_t)>& progress) {
  const auto bursts = planned(options);
  std::vector<std::vector<Sample>> found(bursts.size());
  std::atomic<std::size_t> next{0}, done{0};
  std::mutex gate;
  std::optional<Error> failure;
  const auto work = [&] {
    for (std::size_t i = next++; i < bursts.size(); i = next++) {
      auto samples = samples_of_burst(bursts[i], folder + "/" + std::to_string(i));
      const std::lock_guard lock(gate);
      if (!samples) {
        failure = samples.error();
        next = bursts.size();
      } else {
        found[i] = std::move(*samples);
      }
      if (progress) progress(++done, bursts.size());
    }
  };
  std::vector<std::thread> pool;
  for (int i = 1; i < options.threads; ++i) pool.emplace_back(work);
  work();
  for (std::thread& t : pool) t.join();
  if (failure) return *failure;
  std::vector<Sample> out;
  for (std::size_t i = 0; i < found.size(); ++i)
    for (Sample& s : found[i]) {
      s.burst = static_cast<int>(i);
      out.push_back(std::move(s));
    }
  return out;
}

}  // namespace burstsieve::calibrate
