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
#include <opencv2/core.hpp>
#include <string>
#include <vector>

#include "burstsieve/base/text.h"
#include "burstsieve/decode/sniff.h"
#include "cpu_clock.h"
#include "others.h"
#include "ours.h"

namespace {

using burstsieve::FileRef;
using burstsieve::Region;
using burstsieve::bench::cpu_ms;

constexpr const char* kNoInput =
    "Name the JPEG or raw files to measure. To get some:\n"
    "  tools/test-data.sh                      fetches photographs into the cache\n"
    "  burstsieve-generate --set bench FOLDER   makes 24 MP bursts with known truth, as JPEG and DNG\n"
    "A fair frame has 24 MP and about 8 MB, in 4:2:2 and 4:2:0 (cjpeg -quality 85 -sample 2x1 "
    "picture.ppm).\n";

// About 1 MP of 24, as a bird fills the frame; off centre and odd on purpose.
constexpr Region kSubject{.41, .37, .21, .21};

struct Row {
  std::string file;
  int width = 0, height = 0;
  double ours = 0, luma = 0, naive = 0;  // CPU ms, median
  burstsieve::bench::FrameSplit split;
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

// Interleaved, so that a change of the machine's pace hits all three alike.
bool measure(const FileRef& file, int rounds, int naive_rounds, Row& row) {
  const burstsieve::Limits limits;
  const auto jpeg = burstsieve::bench::jpeg_of(file);
  const std::string path = file.kind == burstsieve::FileKind::jpeg ? file.path : std::string();
  const auto first = burstsieve::bench::run_frame_path(file, 1, kSubject, limits);
  if (!first) {
    fmt::print(stderr, "{}\n", first.error().line());
    return false;
  }
  row.file = file.path;
  row.width = first->width;
  row.height = first->height;
  std::uint64_t sink = 0;
  std::vector<double> ours;
  std::vector<double> luma;
  std::vector<double> naive;
  std::vector<double> splits[4];
  for (int i = 0; i < rounds; ++i) {
    ours.push_back(timed([&] {
      if (const auto r = burstsieve::bench::run_frame_path(file, 1, kSubject, limits)) sink += r->checksum;
    }));
    if (!jpeg.empty()) luma.push_back(timed([&] { sink += burstsieve::bench::luma_decode(path, jpeg); }));
    if (i < naive_rounds) naive.push_back(timed([&] { sink += burstsieve::bench::naive_frame(file); }));
    if (const auto s = burstsieve::bench::split_frame_path(file, 1, kSubject, limits)) {
      splits[0].push_back(s->decode);
      splits[1].push_back(s->eighth);
      splits[2].push_back(s->crop);
      splits[3].push_back(s->thumbnail);
    }
  }
  if (sink == 0) return false;
  row.ours = median(ours);
  row.luma = median(luma);
  row.naive = median(naive);
  row.split = {median(splits[0]), median(splits[1]), median(splits[2]), median(splits[3])};
  return true;
}

// 0 where one of the two could not be measured.
double ratio(double a, double b) {
  return b > 0 ? a / b : 0;
}

void print(const std::vector<Row>& rows, bool json) {
  auto list = nlohmann::json::array();
  if (!json)
    fmt::print("{:>9} {:>9} {:>9} {:>10} {:>10}  {:<27} {}\n", "ours ms", "luma ms", "naive ms", "ours/luma",
               "naive/ours", "decode/eighth/crop/thumb", "file");
  for (const Row& r : rows) {
    if (json) {
      list.push_back({{"file", burstsieve::one_line(r.file)},
                      {"width", r.width},
                      {"height", r.height},
                      {"ours_ms", r.ours},
                      {"luma_ms", r.luma},
                      {"naive_ms", r.naive},
                      {"ours_per_luma", ratio(r.ours, r.luma)},
                      {"naive_per_ours", ratio(r.naive, r.ours)},
                      {"split_ms",
                       {{"decode", r.split.decode},
                        {"eighth", r.split.eighth},
                        {"crop", r.split.crop},
                        {"thumbnail", r.split.thumbnail}}}});
    } else {
      const std::string split = fmt::format("{:.1f}/{:.2f}/{:.2f}/{:.2f}", r.split.decode, r.split.eighth,
                                            r.split.crop, r.split.thumbnail);
      fmt::print("{:9.1f} {:9.1f} {:9.1f} {:10.3f} {:10.2f}  {:<27} {}\n", r.ours, r.luma, r.naive,
                 ratio(r.ours, r.luma), ratio(r.naive, r.ours), split, burstsieve::one_line(r.file));
    }
  }
  if (json) fmt::print("{}\n", list.dump(2));
}

// Peak resident memory of `frames` frames in MiB, 0 when a frame failed. It does not fall again: each count
// gets a process of its own.
double peak_memory(const std::vector<FileRef>& files, int frames) {
  const pid_t child = ::fork();
  if (child < 0) return 0;
  if (child == 0) {
    for (int i = 0; i < frames; ++i) {
      const auto r = burstsieve::bench::run_frame_path(files[static_cast<std::size_t>(i) % files.size()], 1,
                                                       kSubject, {});
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

}  // namespace

int main(int argc, char** argv) {
  CLI::App app("CPU time and memory of one frame's path, single-threaded");
  std::vector<std::string> paths;
  int rounds = 15;
  int naive_rounds = 5;
  bool json = false;
  bool memory = false;
  app.add_option("FILE", paths, "JPEG or raw files");
  app.add_option("--rounds", rounds, "rounds; the median counts")->check(CLI::Range(1, 1000));
  app.add_option("--naive-rounds", naive_rounds, "of these, with the naive way")->check(CLI::Range(0, 1000));
  app.add_flag("--memory", memory, "instead: peak memory after 4 and after 40 frames");
  app.add_flag("--json", json, "machine-readable");
  CLI11_PARSE(app, argc, argv);
  cv::setNumThreads(1);
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
  std::vector<Row> rows;
  for (const FileRef& file : files) {
    Row row;
    if (!measure(file, rounds, naive_rounds, row)) return 1;
    rows.push_back(row);
  }
  print(rows, json);
  return 0;
}
