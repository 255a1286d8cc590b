// burstsieve-generate: writes invented bursts of birds, and the truth about them.
#include <fmt/format.h>

#include <CLI/CLI.hpp>
#include <atomic>
#include <exception>
#include <mutex>
#include <opencv2/core/utility.hpp>
#include <thread>

#include "truth.h"

namespace {

using namespace burstsieve;
using namespace burstsieve::generate;

struct Task {
  std::size_t burst, frame;
};

// Renders and writes one frame; the truth comes back with the names of its files.
Result<FrameTruth> make(const BurstSpec& burst, const FrameSpec& spec, const std::string& folder) {
  RenderedFrame frame = render_frame(burst, spec);
  for (const FileBytes& file : photograph(burst, spec, frame)) {
    if (Status s = write_file(folder + "/" + file.name, file.bytes); !s) return s.error();
    frame.truth.files.push_back(file.name);
  }
  return std::move(frame.truth);
}

int run(const PlanOptions& options, const std::string& folder, int threads) {
  const std::vector<BurstSpec> bursts = plan(options);
  std::vector<BurstTruth> truth(bursts.size());
  std::vector<Task> tasks;
  bool large = false;
  for (std::size_t b = 0; b < bursts.size(); ++b) {
    const Camera& c = bursts[b].camera;
    truth[b] = {
        bursts[b].name, c.make + " " + c.model + " #" + c.serial, bursts[b].format != Format::jpeg, {}};
    truth[b].frames.resize(bursts[b].frames.size());
    for (std::size_t f = 0; f < bursts[b].frames.size(); ++f) tasks.push_back({b, f});
    large = large || bursts[b].size.area() > 6000000;
  }
  // Small frames: one per thread. Large ones need near a gigabyte each: one at a time, threads share its
  // rows.
  const int workers = large ? 1 : threads;
  cv::setNumThreads(large ? threads : 1);
  std::atomic<std::size_t> next{0};
  std::mutex gate;
  std::string failure;
  const auto work = [&] {
    for (std::size_t i = next++; i < tasks.size(); i = next++) {
      const Task& t = tasks[i];
      std::string reason;
      try {
        Result<FrameTruth> done = make(bursts[t.burst], bursts[t.burst].frames[t.frame], folder);
        if (done)
          truth[t.burst].frames[t.frame] = std::move(*done);
        else
          reason = done.error().line();
      } catch (const std::exception& e) {
        reason = e.what();
      }
      if (!reason.empty()) {
        const std::lock_guard lock(gate);
        failure = reason;
        next = tasks.size();
      }
    }
  };
  std::vector<std::thread> pool;
  for (int i = 1; i < workers; ++i) pool.emplace_back(work);
  work();
  for (std::thread& t : pool) t.join();
  if (failure.empty()) {
    for (BurstTruth& b : truth) choose_best(b.frames);
    const std::string json = truth_json(options.set, options.seed, truth);
    if (Status s = write_file(folder + "/truth.json", ByteBuffer(json.begin(), json.end())); !s)
      failure = s.error().line();
  }
  if (!failure.empty()) {
    fmt::print(stderr, "burstsieve-generate: {}\n", failure);
    return 1;
  }
  fmt::print("{} bursts, {} frames in {}\n", bursts.size(), tasks.size(), folder);
  return 0;
}

}  // namespace

int main(int argc, char** argv) {
  CLI::App app{"Writes invented bursts of birds over a harbour and a salt marsh, with truth.json."};
  app.get_formatter()->column_width(34);
  PlanOptions options;
  std::string folder, format;
  int threads = static_cast<int>(std::max(1u, std::thread::hardware_concurrency()));
  app.add_option("OUT", folder, "Folder to write to; created if missing, files of the same name are replaced")
      ->required();
  app.add_option(
         "--set", options.set,
         "sample: five small bursts, every kind of file; season: many random bursts; "
         "bench: 24-megapixel frames; faults: one ladder of strengths per fault; "
         "depth: focus on, before and behind the subject; several: two or three birds at different distances")
      ->check(CLI::IsMember({"sample", "season", "bench", "faults", "depth", "several"}))
      ->capture_default_str();
  app.add_option(
         "--bursts", options.bursts,
         "Number of bursts (season: 200, depth and several: 50, bench: 2; sample and faults are fixed)")
      ->check(CLI::Range(1, 100000));
  app.add_option("--frames", options.frames, "Frames per burst (season: 4 to 10 at random, bench: 6)")
      ->check(CLI::Range(1, 1000));
  app.add_option("--width", options.width,
                 "Frame width in pixels, even (season, faults, depth, several: 900, bench: 6000)")
      ->check(CLI::Range(64, 20000));
  app.add_option("--height", options.height,
                 "Frame height in pixels, even (season, faults, depth, several: 600, bench: 4000)")
      ->check(CLI::Range(64, 20000));
  app.add_option("--seed", options.seed, "Seed; the same seed and options give the same bytes")
      ->capture_default_str();
  app.add_option("--format", format,
                 "jpeg, dng (with JPEG preview) or pair, for all bursts; otherwise the set decides")
      ->check(CLI::IsMember({"jpeg", "dng", "pair"}));
  app.add_flag("--demosaic", options.demosaic,
               "Develop JPEGs from the interpolated mosaic, with its softening and correlated noise; "
               "otherwise from three full planes, whose blur is exactly the stated one");
  app.add_option("--threads", threads, "Threads; does not change the result")
      ->check(CLI::Range(1, 256))
      ->capture_default_str();
  CLI11_PARSE(app, argc, argv);
  if (options.width % 2 != 0 || options.height % 2 != 0) {
    fmt::print(stderr,
               "burstsieve-generate: --width and --height must be even, for the colour filter's 2x2 tiles\n");
    return 2;
  }
  if (!format.empty()) {
    options.format_given = true;
    options.format = format == "jpeg" ? Format::jpeg : format == "dng" ? Format::dng : Format::pair;
  }
  return run(options, folder, threads);
}
