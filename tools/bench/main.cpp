// burstsieve-bench: what one frame costs, against one luma decode and against the straightforward way.
#include <fcntl.h>
#include <fmt/format.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

#include <CLI/CLI.hpp>
#include <algorithm>
#include <cstdio>
#include <cstdlib>
#include <functional>
#include <nlohmann/json.hpp>
#include <string>
#include <vector>

#include "burst.h"
#include "burstsieve/base/text.h"
#include "burstsieve/decode/sniff.h"
#include "burstsieve/image/process.h"
#include "burstsieve/pipeline/engine_process.h"
#include "burstsieve/subject/detector.h"
#include "cpu_clock.h"
#include "isolation.h"
#include "others.h"
#include "ours.h"

namespace {

using burstsieve::FileRef;
using burstsieve::bench::cpu_ms;

constexpr const char* kNoInput =
    "Name the JPEG or raw files to measure. To get some:\n"
    "  tools/test-data.sh                      fetches photographs into the cache\n"
    "  burstsieve-generate --set bench FOLDER   makes 24 MP bursts with known truth, as JPEG and DNG\n"
    "A fair frame has 24 MP and about 8 MB, in 4:2:2 and 4:2:0 (cjpeg -quality 85 -sample 2x1 "
    "picture.ppm).\n";

struct Row {
  std::string file;
  double luma = 0, naive = 0;         // CPU ms, median
  burstsieve::bench::FrameCost ours;  // medians
};

double median(std::vector<double> values) {
  std::sort(values.begin(), values.end());
  return values.empty() ? 0 : values[values.size() / 2];
}

double timed(const std::function<void()>& work) {
  const double start = cpu_ms();
  work();
  return cpu_ms() - start;
}

bool recognise(const std::string& path, FileRef& out) {
  std::vector<std::uint8_t> head(65536);
  const int fd = ::open(path.c_str(), O_RDONLY | O_CLOEXEC);
  if (fd < 0) return false;
  const ssize_t got = ::pread(fd, head.data(), head.size(), 0);
  ::close(fd);
  if (got <= 0) return false;
  head.resize(static_cast<std::size_t>(got));
  const auto found = burstsieve::decode::sniff(head, path);
  if (!found) return false;
  out.path = path;
  out.kind = found->kind;
  out.format = found->format;
  return true;
}

using burstsieve::bench::FrameCost;

FrameCost median_of(const std::vector<FrameCost>& all) {
  FrameCost out = all.front();
  for (const auto part : {&FrameCost::metadata, &FrameCost::decode, &FrameCost::measure,
                          &FrameCost::highlights, &FrameCost::detector}) {
    std::vector<double> values;
    for (const FrameCost& c : all) values.push_back(c.*part);
    out.*part = median(values);
  }
  return out;
}

// Interleaved, so that a change of the machine's pace hits all three alike.
bool measure(const FileRef& file, int rounds, int naive_rounds, burstsieve::subject::DetectorPool* detectors,
             Row& row) {
  const burstsieve::Limits limits;
  const auto jpeg = burstsieve::bench::jpeg_of(file);
  const std::string path = file.kind == burstsieve::FileKind::jpeg ? file.path : std::string();
  burstsieve::pipeline::Trail trail;
  std::uint64_t sink = 0;
  std::vector<FrameCost> ours;
  std::vector<double> luma, naive;
  for (int i = 0; i <= rounds; ++i) {
    const bool raw = file.kind == burstsieve::FileKind::raw;
    const auto cost = burstsieve::bench::run_frame_path(file, trail, raw, limits, detectors);
    if (!cost) {
      fmt::print(stderr, "{}\n", cost.error().line());
      return false;
    }
    sink += cost->measures;
    if (i == 0) continue;  // the first fills the buffer pool and has no frame before it
    ours.push_back(*cost);
    if (!jpeg.empty()) luma.push_back(timed([&] { sink += burstsieve::bench::luma_decode(path, jpeg); }));
    if (i <= naive_rounds) naive.push_back(timed([&] { sink += burstsieve::bench::naive_frame(file); }));
  }
  if (sink == 0) return false;
  row = {file.path, median(luma), median(naive), median_of(ours)};
  return true;
}

// 0 where one of the two could not be measured.
double ratio(double a, double b) {
  return b > 0 ? a / b : 0;
}

void print(const std::vector<Row>& rows, bool json) {
  auto list = nlohmann::json::array();
  if (!json)
    fmt::print("{:>8} {:>8} {:>9} {:>10} {:>10}  {:<24} {:>9} {:>11}  {}\n", "ours ms", "luma ms", "naive ms",
               "ours/luma", "naive/ours", "metadata/decode/measure", "mosaic ms", "detector ms", "file");
  for (const Row& r : rows) {
    const double total = r.ours.total();
    const std::string name = burstsieve::one_line(r.file);
    if (json) {
      list.push_back({{"file", name},
                      {"width", r.ours.width},
                      {"height", r.ours.height},
                      {"ours_ms", total},
                      {"luma_ms", r.luma},
                      {"naive_ms", r.naive},
                      {"ours_per_luma", ratio(total, r.luma)},
                      {"naive_per_ours", ratio(r.naive, total)},
                      {"metadata_ms", r.ours.metadata},
                      {"decode_ms", r.ours.decode},
                      {"measure_ms", r.ours.measure},
                      {"mosaic_ms", r.ours.highlights},
                      {"detector_ms", r.ours.detector}});
      continue;
    }
    const std::string split =
        fmt::format("{:.2f}/{:.1f}/{:.1f}", r.ours.metadata, r.ours.decode, r.ours.measure);
    fmt::print("{:8.1f} {:8.1f} {:9.1f} {:10.3f} {:10.2f}  {:<24} {:9.1f} {:11.1f}  {}\n", total, r.luma,
               r.naive, ratio(total, r.luma), ratio(r.naive, total), split, r.ours.highlights,
               r.ours.detector, name);
  }
  if (json) fmt::print("{}\n", list.dump(2));
}

// Peak resident memory of `frames` frames in MiB, 0 when a frame failed. It does not fall again: each count
// gets a process of its own.
double peak_memory(const std::vector<FileRef>& files, int frames) {
  const pid_t child = ::fork();
  if (child < 0) return 0;
  if (child == 0) {
    burstsieve::pipeline::Trail trail;
    for (int i = 0; i < frames; ++i) {
      const auto r = burstsieve::bench::run_frame_path(files[static_cast<std::size_t>(i) % files.size()],
                                                       trail, false, {});
      if (!r) ::_exit(1);
    }
    ::_exit(0);
  }
  int status = 0;
  rusage use{};
  if (::wait4(child, &status, 0, &use) != child || status != 0) return 0;
  return static_cast<double>(use.ru_maxrss) / 1024;
}

int report_memory(const std::vector<FileRef>& files, bool json) {
  constexpr int few = 4;
  constexpr int many = 40;
  const double with_few = peak_memory(files, few);
  const double with_many = peak_memory(files, many);
  if (with_few == 0 || with_many == 0) {
    fmt::print(stderr, "a frame could not be decoded\n");
    return 1;
  }
  if (json)
    fmt::print("{}\n", nlohmann::json{{"frames_4_mib", with_few}, {"frames_40_mib", with_many}}.dump(2));
  else
    fmt::print("peak memory: {:.1f} MiB after {} frames, {:.1f} MiB after {}\n", with_few, few, with_many,
               many);
  return 0;
}

// 60 frames: two seconds of a fast camera, one burst.
int report_isolation(const std::vector<FileRef>& files, int rounds, bool json) {
  const auto cost = burstsieve::bench::isolation_cost(files, 60, rounds, "/proc/self/exe");
  if (!cost) {
    fmt::print(stderr, "{}\n", cost.error().line());
    return 1;
  }
  if (json)
    fmt::print("{}\n", nlohmann::json{{"here_ms", cost->here_ms},
                                      {"apart_ms", cost->apart_ms},
                                      {"apart_per_here", ratio(cost->apart_ms, cost->here_ms)}}
                           .dump(2));
  else
    fmt::print("CPU per frame: {:.1f} ms in this process, {:.1f} ms in the sandboxed engine: {:.3f}x\n",
               cost->here_ms, cost->apart_ms, ratio(cost->apart_ms, cost->here_ms));
  return 0;
}

int report_burst(const std::vector<FileRef>& files, burstsieve::subject::DetectorPool* detectors, bool json) {
  if (detectors == nullptr) {
    fmt::print(stderr, "no subject detector is installed (tools/setup.sh --detector)\n");
    return 1;
  }
  const auto cost = burstsieve::bench::burst_cost(files, *detectors);
  if (!cost) {
    fmt::print(stderr, "{}\n", cost.error().line());
    return 1;
  }
  if (json)
    fmt::print("{}\n", nlohmann::json{{"frames", files.size()},
                                      {"decode_ms", cost->decode_ms},
                                      {"path_ms", cost->all_ms},
                                      {"detector_ms", cost->added_ms},
                                      {"detector_per_decode", ratio(cost->added_ms, cost->decode_ms)}}
                           .dump(2));
  else
    fmt::print(
        "CPU per frame of a burst of {}: decode {:.1f} ms, whole path without the detector {:.1f} ms; "
        "finding the "
        "animal adds {:.1f} ms: {:.2f} of the decode\n",
        files.size(), cost->decode_ms, cost->all_ms, cost->added_ms, ratio(cost->added_ms, cost->decode_ms));
  return 0;
}

}  // namespace

int main(int argc, char** argv) {
  if (argc == 2 && std::string(argv[1]) == burstsieve::pipeline::kEngineArgument)
    return burstsieve::pipeline::serve_engine();
  CLI::App app("CPU time and memory of one frame's path, single-threaded");
  std::vector<std::string> paths;
  int rounds = 15;
  int naive_rounds = 5;
  bool json = false;
  bool memory = false;
  bool isolation = false;
  app.add_option("FILE", paths, "JPEG or raw files");
  app.add_option("--rounds", rounds, "rounds; the median counts")->check(CLI::Range(1, 1000));
  app.add_option("--naive-rounds", naive_rounds, "of these, with the naive way")->check(CLI::Range(0, 1000));
  app.add_flag("--memory", memory, "instead: peak memory after 4 and after 40 frames");
  app.add_flag("--isolation", isolation, "instead: cost of the sandboxed engine process");
  bool burst = false;
  app.add_flag("--burst", burst,
               "instead: the files as one burst, what finding the animal adds to its decode");
  app.add_flag("--json", json, "machine-readable");
  CLI11_PARSE(app, argc, argv);
  burstsieve::image::prepare_process();
  setenv("OMP_NUM_THREADS", "1", 1);  // before any thread exists; for the naive way
  if (paths.empty()) {
    fmt::print(stderr, "{}", kNoInput);
    return 2;
  }
  std::vector<FileRef> files;
  for (const std::string& path : paths) {
    FileRef file;
    if (!recognise(path, file)) {
      fmt::print(stderr, "{}: not a JPEG or raw file\n", burstsieve::one_line(path));
      return 1;
    }
    files.push_back(file);
  }
  if (memory) return report_memory(files, json);
  if (isolation) return report_isolation(files, rounds, json);
  std::shared_ptr<burstsieve::subject::DetectorPool> detectors;  // none installed: its column is 0
  if (auto pool = burstsieve::subject::DetectorPool::load(burstsieve::subject::detector_file()))
    detectors = std::move(*pool);
  if (burst) return report_burst(files, detectors.get(), json);
  std::vector<Row> rows;
  for (const FileRef& file : files) {
    Row row;
    if (!measure(file, rounds, naive_rounds, detectors.get(), row)) return 1;
    rows.push_back(row);
  }
  print(rows, json);
  return 0;
}
