// The detector in the engine's own process: under its sandbox and limits, in the catalogue's key, and its
// absence.
#include "burstsieve/subject/detector.h"

#include <doctest/doctest.h>

#include <filesystem>
#include <fstream>
#include <optional>

#include "pipeline/sample.h"

using namespace burstsieve;
using test::Recorder;
using test::SampleFolder;
namespace fs = std::filesystem;

namespace {

pipeline::CullOptions with_detector(const std::string& file, int threads = 2) {
  pipeline::CullOptions options;
  options.engine.program = BURSTSIEVE_PROGRAM;
  options.engine.detector = file;
  options.threads = threads;
  return options;
}

// The model, or nothing with a message.
std::optional<std::string> model_here() {
  const std::string file = subject::detector_file();
  if (fs::exists(file)) return file;
  MESSAGE("SKIP: no detector installed (tools/setup.sh --detector)");
  return std::nullopt;
}

// Frames whose first subject was followed from another one.
std::size_t followed_frames(const Recorder& run) {
  std::size_t n = 0;
  for (const BurstOutcome& b : run.bursts)
    for (const FrameOutcome& f : b.frames)
      n += !f.facts.subjects.empty() &&
           f.facts.subjects[0].why.find("and followed to here") != std::string::npos;
  return n;
}

std::size_t seen_by_detector(const Recorder& run) {
  std::size_t n = 0;
  for (const BurstOutcome& b : run.bursts)
    for (const FrameOutcome& f : b.frames)
      for (const Subject& s : f.facts.subjects) n += s.source.find("detector") != std::string::npos;
  return n;
}

}  // namespace

TEST_SUITE("pipeline/detector") {
  TEST_CASE("in the sandbox and out of it, one thread or four: the same answers; nothing else is different") {
    const auto file = model_here();
    if (!file) return;
    SampleFolder s;
    Recorder apart, here;
    pipeline::CullOptions options = with_detector(*file, 4);
    options.engine.require_sandbox = true;
    options.dry_run = true;
    const RunSummary summary = s.cull(apart, options, "c1");
    CHECK(summary.detector == subject::detector_identity());
    CHECK_FALSE(summary.detector_missing);
    CHECK(summary.errors == 0);
    CHECK(apart.errors.empty());
    options = with_detector(*file, 1);
    options.engine.program.clear();
    options.dry_run = true;
    s.cull(here, options, "c2");
    CHECK((apart.text() == here.text()));
    CHECK(seen_by_detector(apart) > 0);
    MESSAGE("boxes of the detector in 30 sample frames: ", seen_by_detector(apart));
    MESSAGE("first subjects followed from another frame: ", followed_frames(apart));
  }

  TEST_CASE("facts measured without the detector are measured again with it, and the other way round") {
    const auto file = model_here();
    if (!file) return;
    SampleFolder s;
    for (const std::string& detector : {std::string(), *file, *file, std::string()}) {
      static std::string last = "none";
      Recorder run;
      pipeline::CullOptions options = with_detector(detector);
      options.dry_run = true;
      const RunSummary summary = s.cull(run, options);
      CAPTURE(detector);
      CHECK(summary.measured == (detector == last ? 0u : 30u));
      CHECK((seen_by_detector(run) > 0) == !detector.empty());
      last = detector;
    }
  }

  TEST_CASE(
      "no detector installed: the run goes on and says so once; a damaged one is a note; a named one an "
      "error") {
    SampleFolder s;
    Recorder run;
    RunSummary summary = s.cull(run, with_detector(s.folder.at("none.onnx")));
    CHECK(summary.detector_missing);
    CHECK(summary.detector.empty());
    CHECK(run.notes.empty());
    CHECK(run.errors.empty());
    CHECK(summary.measured == 30);

    s.folder.write("damaged.onnx", "not a model");
    Recorder damaged;
    summary = s.cull(damaged, with_detector(s.folder.at("damaged.onnx")));
    CHECK(summary.detector_missing);
    REQUIRE(damaged.notes.size() == 1);
    CHECK(damaged.notes[0].file == s.folder.at("damaged.onnx"));
    CHECK(damaged.notes[0].text.find("going on without it") != std::string::npos);
    CHECK(summary.remembered == 30);  // as without one

    for (const char* name : {"none.onnx", "damaged.onnx"})
      for (const char* program : {BURSTSIEVE_PROGRAM, ""}) {
        pipeline::CullOptions options = with_detector(s.folder.at(name));
        options.engine.detector_required = true;
        options.engine.program = program;
        const auto engine = pipeline::make_engine(options.engine, 1, {});
        REQUIRE_FALSE(engine);
        CHECK(engine.error().cause == Cause::unsupported);
        CHECK(engine.error().file == s.folder.at(name));
      }
  }

  TEST_CASE("a detector that goes away while the engine is at work ends the run: answers are of one kind") {
    const auto file = model_here();
    if (!file) return;
    SampleFolder s;
    fs::copy_file(*file, s.folder.at("m.onnx"));
    // The engine dies at the first frame of this name, and is started again.
    fs::rename(s.folder.at("DCIM/101SALTM/BSG_0014.JPG"), s.folder.at("DCIM/101SALTM/at-picture-crash.JPG"));
    pipeline::CullOptions options = with_detector(s.folder.at("m.onnx"));
    options.engine.program = FAULTY_ENGINE;
    struct Remover : Recorder {
      explicit Remover(std::string path) : model(std::move(path)) {}
      void found(const ScanCounts&, std::size_t, std::size_t) override { fs::remove(model); }
      std::string model;
    } run(s.folder.at("m.onnx"));
    auto catalog = Catalog::open(s.folder.at("c"), kEngineVersion);
    REQUIRE(catalog);
    RealFileSystem files;
    ManualClock clock(1'790'000'000'000);
    options.places = {s.folder.at("DCIM")};
    const auto summary = pipeline::cull(options, *catalog, files, clock, run);
    REQUIRE_FALSE(summary);
    CHECK(summary.error().text.find("detector") != std::string::npos);
  }
}
