// Thousands of damaged photographs through the whole engine process: the supervisor lives, every file gets an
// answer, and none whose picture is damaged counts as sharp.
//
// Sources: frames rendered here, and the camera files of Debian's exiv2 and libimage-exiftool-perl sources
// (tools/test-data.sh). BURSTSIEVE_MUTANTS: how many (CI: 20,000).
#include <doctest/doctest.h>

#include <cstdlib>
#include <map>
#include <opencv2/core.hpp>

#include "base/test_data.h"
#include "burstsieve/base/text.h"
#include "burstsieve/decode/pixels.h"
#include "burstsieve/pipeline/scan.h"
#include "burstsieve/rank/policy.h"
#include "frame.h"
#include "mutate.h"
#include "pipeline/sample.h"
#include "plan.h"

using namespace burstsieve;
namespace fs = std::filesystem;

namespace {

constexpr std::size_t kBatch = 500;

std::size_t wanted() {
  const char* asked = std::getenv("BURSTSIEVE_MUTANTS");
  if (asked) return static_cast<std::size_t>(std::atoll(asked));
#if defined(__SANITIZE_ADDRESS__)
  return 500;
#else
  return 2000;
#endif
}

struct Source {
  std::string name;
  ByteBuffer bytes;
  mutate::PictureMap map;
  cv::Mat luma;  // as it decodes whole; empty when it doesn't
};

FileRef as_file(const std::string& path) {
  const bool jpeg = lower_ascii(path).ends_with(".jpg");
  FileRef f;
  f.path = path;
  f.kind = jpeg ? FileKind::jpeg : FileKind::raw;
  return f;
}

cv::Mat luma_of(const FileRef& file) {
  const auto planes = decode::decode_planes(file, 1, {});
  if (!planes || !planes->damage.empty()) return {};
  return planes->luma.clone();
}

ByteBuffer bytes_of(const std::string& path) {
  RealFileSystem files;
  auto bytes = files.read_file(path, 64u << 20);
  REQUIRE(bytes);
  return std::move(*bytes);
}

std::vector<std::string> camera_files() {
  std::vector<std::string> out;
  for (const char* name :
       {"exiv2/test/data/exiv2-canon-powershot-s40.crw", "libimage-exiftool-perl/t/images/CanonRaw.crw",
        "libimage-exiftool-perl/t/images/CanonRaw.cr2", "libimage-exiftool-perl/t/images/CanonRaw.cr3",
        "libimage-exiftool-perl/t/images/Nikon.nef", "libimage-exiftool-perl/t/images/Minolta.mrw",
        "libimage-exiftool-perl/t/images/Panasonic.rw2", "libimage-exiftool-perl/t/images/FujiFilm.raf",
        "libimage-exiftool-perl/t/images/DNG.dng", "libimage-exiftool-perl/t/images/Canon.jpg",
        "libimage-exiftool-perl/t/images/Nikon.jpg", "libimage-exiftool-perl/t/images/Sony.jpg"})
    if (fs::exists(test::data_cache() + "/" + name)) out.push_back(test::data_cache() + "/" + name);
  return out;
}

// Two thirds rendered JPEG and DNG, whose pictures fill the file; the rest what cameras wrote.
std::vector<Source> sources(const test::TempFolder& folder) {
  std::vector<std::string> paths;
  for (const auto& burst : generate::plan({"season", 2, 3, 720, 480, 3, generate::Format::pair, true, false}))
    for (const auto& spec : burst.frames) {
      auto frame = generate::render_frame(burst, spec);
      for (const auto& file : generate::photograph(burst, spec, frame)) {
        const std::string name = "src-" + fs::path(file.name).filename().string();
        folder.write(name, std::string(file.bytes.begin(), file.bytes.end()));
        paths.push_back(folder.at(name));
        paths.push_back(folder.at(name));
      }
    }
  const auto camera = camera_files();
  if (camera.empty()) MESSAGE("no camera files fetched: rendered frames only (run tools/test-data.sh)");
  paths.insert(paths.end(), camera.begin(), camera.end());
  std::vector<Source> out;
  for (const std::string& path : paths) {
    Source s;
    s.name = fs::path(path).filename().string();
    s.bytes = bytes_of(path);
    s.map = mutate::map_of(s.bytes);
    s.luma = luma_of(as_file(path));
    out.push_back(std::move(s));
  }
  return out;
}

// Share of pixels that are not what they were. 8 levels is more than any rounding.
double changed(const cv::Mat& before, const cv::Mat& after) {
  if (before.size() != after.size() || before.empty()) return 1;
  cv::Mat difference;
  cv::absdiff(before, after, difference);
  return static_cast<double>(cv::countNonZero(difference > 8)) / static_cast<double>(before.total());
}

struct Tally {
  std::size_t files = 0, photographs = 0, unreadable = 0, damaged = 0, whole = 0, kept = 0;
  std::vector<std::string> changed_unseen, wrongly_sharp;
};

struct Mutant {
  const Source* source = nullptr;
  std::string description;
};

// Writes a batch, asks the engine about it as a run does, each file as a burst of its own: then nothing but
// its own picture can keep it from being kept.
void run_batch(const std::vector<Source>& all, std::size_t first, std::size_t count, pipeline::Engine& engine,
               Tally& tally) {
  test::TempFolder folder(test::in_memory());
  std::map<std::string, Mutant> mutants;
  for (std::size_t i = first; i < first + count; ++i) {
    const Source& s = all[i % all.size()];
    const Source& donor = all[(i * 7 + 3) % all.size()];
    const auto plan = mutate::plan(s.bytes, s.map, donor.bytes.size(), i);
    const ByteBuffer broken = mutate::apply(plan, s.bytes, donor.bytes);
    const std::string name = std::to_string(i) + fs::path(s.name).extension().string();
    folder.write(name, std::string(broken.begin(), broken.end()));
    mutants[folder.at(name)] = {&s, s.name + ": " + mutate::describe(plan)};
  }
  tally.files += count;

  const auto found = pipeline::scan(engine, {folder.path}, {});
  REQUIRE(found);
  REQUIRE(engine.status());
  CHECK(found->files.size() + found->counts.other + found->counts.empty + found->errors.size() == count);
  tally.photographs += found->files.size();
  const auto captures = engine.read_captures(found->files);
  REQUIRE(captures.size() == found->files.size());
  for (std::size_t i = 0; i < found->files.size(); ++i) {
    Frame frame;
    (found->files[i].kind == FileKind::raw ? frame.raw : frame.jpeg) = found->files[i];
    if (captures[i]) frame.capture = *captures[i];
    frame.jpeg_orientation = frame.capture.orientation;
    tally.unreadable += !captures[i];
    engine.submit({{frame}, {}, false});
  }
  for (const FileRef& file : found->files) {
    auto burst = engine.next({}, nullptr);
    REQUIRE(burst);
    REQUIRE(*burst);
    REQUIRE((*burst)->frames.size() == 1);
    const FrameFacts& facts = (*burst)->frames.front();
    const auto verdict = rank::judge({{"it", &facts, facts.pose.tile.empty() ? 0 : 1}}, {}).front().verdict;
    if (!facts.damage.empty()) {
      ++tally.damaged;
      CHECK(verdict == Verdict::undecided);
      continue;
    }
    ++tally.whole;
    tally.kept += verdict == Verdict::keep;
    const Mutant& mutant = mutants.at(file.path);
    // A rendering stands in for a missing preview, and may be of another size: no luma to compare with.
    if (mutant.source->luma.empty()) continue;
    const double share = changed(mutant.source->luma, luma_of(file));
    if (share <= .005) continue;
    const std::string line = mutant.description + " (" + std::to_string(share) + " of the pixels changed)";
    tally.changed_unseen.push_back(line);
    if (verdict == Verdict::keep) tally.wrongly_sharp.push_back(line);
  }
}

}  // namespace

TEST_SUITE("pipeline/mutants") {
  TEST_CASE("damaged files by the thousand: one line each, no death of the supervisor, none wrongly sharp") {
    test::TempFolder folder;
    const auto all = sources(folder);
    pipeline::EngineOptions options;
    options.program = BURSTSIEVE_PROGRAM;
    options.hang_seconds = 30;
    const auto engine = pipeline::make_engine(options, 2, {});
    REQUIRE(engine);
    Tally t;
    for (std::size_t at = 0; at < wanted(); at += kBatch)
      run_batch(all, at, std::min(kBatch, wanted() - at), **engine, t);
    for (const std::string& line : t.wrongly_sharp) MESSAGE("wrongly kept: " << line);
    MESSAGE(t.files << " files: " << t.photographs << " photographs, " << t.unreadable
                    << " without metadata, " << t.damaged << " damaged, " << t.whole << " whole, of which "
                    << t.changed_unseen.size() << " changed unnoticed; " << t.kept << " kept");
    CHECK(t.wrongly_sharp.empty());
    CHECK(t.kept > 0);  // the test can fail: whole frames are kept
    CHECK(t.damaged > t.files / 3);
  }
}
