// The engine in its own process: the same answers as in this one, and failures that cost one file each.
#include "burstsieve/pipeline/engine_process.h"

#include <doctest/doctest.h>

#include <algorithm>
#include <cstdlib>

#include "../../src/pipeline/silence.h"
#include "pipeline/sample.h"

using namespace burstsieve;
using test::Recorder;
using test::SampleFolder;
namespace fs = std::filesystem;

namespace {

pipeline::CullOptions through(const std::string& program, int threads = 2) {
  pipeline::CullOptions options;
  options.engine.program = program;
  options.threads = threads;
  return options;
}

struct WithEnvironment {
  WithEnvironment(const char* name, const char* value) : name_(name) { ::setenv(name, value, 1); }
  ~WithEnvironment() { ::unsetenv(name_); }
  const char* name_;
};

// Renames one frame of the samples so that the faulty engine fails at it; its sidecar-free twin is compared.
struct Sabotaged {
  explicit Sabotaged(const std::string& fault, const std::string& file = "DCIM/101SALTM/BSG_0014.JPG") {
    const std::string to = "DCIM/101SALTM/at-" + fault + fs::path(file).extension().string();
    fs::rename(s.folder.at(file), s.folder.at(to));
    name = fs::path(to).filename().string();
  }
  RunSummary cull(pipeline::CullOptions options = through(FAULTY_ENGINE), const std::string& catalog = "c1") {
    return s.cull(run, std::move(options), catalog);
  }
  const FrameOutcome& frame() {
    const FrameOutcome* f = run.frame(name);
    REQUIRE(f);
    return *f;
  }
  SampleFolder s;
  Recorder run;
  std::string name;
};

// Every other frame is what it is with an engine that doesn't fail, but for the damaged neighbour.
void others_are_untouched(Sabotaged& faulty) {
  Recorder clean;
  faulty.s.cull(clean, {}, "clean");
  REQUIRE(clean.bursts.size() == faulty.run.bursts.size());
  for (std::size_t b = 0; b < clean.bursts.size(); ++b) {
    const auto& frames = clean.bursts[b].frames;
    REQUIRE(frames.size() == faulty.run.bursts[b].frames.size());
    const bool hit = faulty.run.bursts[b].frames.size() > 0 &&
                     std::any_of(frames.begin(), frames.end(), [&](const FrameOutcome& f) {
                       return leaf_of(f.frame.main().path) == faulty.name;
                     });
    for (std::size_t i = 0; i < frames.size(); ++i) {
      if (leaf_of(frames[i].frame.main().path) == faulty.name) continue;
      const FrameFacts& a = frames[i].facts;
      const FrameFacts& z = faulty.run.bursts[b].frames[i].facts;
      // Burst motion looks at the frame before: next to the lost one that one is missing.
      if (hit)
        CHECK(a.decoded == z.decoded);
      else
        CHECK((a == z));
    }
  }
}

}  // namespace

TEST_SUITE("pipeline/engine_process") {
  TEST_CASE("the samples: the same answers and sidecars from another process as from this one") {
    SampleFolder here, there;
    Recorder local, remote;
    const auto a = here.cull(local);
    const auto b = there.cull(remote, through(BURSTSIEVE_PROGRAM));
    REQUIRE(local.bursts.size() == 5);
    for (std::size_t i = 0; i < local.bursts.size(); ++i)
      for (std::size_t k = 0; k < local.bursts[i].frames.size(); ++k) {
        CHECK((local.bursts[i].frames[k].facts == remote.bursts[i].frames[k].facts));
        CHECK((local.bursts[i].frames[k].verdict == remote.bursts[i].frames[k].verdict));
      }
    CHECK((here.contents(true) == there.contents(true)));
    CHECK((here.contents(false) == there.contents(false)));
    CHECK(a.measured == b.measured);
    CHECK(a.mosaics == b.mosaics);
    CHECK(remote.notes.empty());  // the filter was accepted here
    CHECK(remote.last_done == 30);
    CHECK(remote.progress_ok);
  }

  TEST_CASE("a crash, an abort, an exit, a hang or babble at one picture costs that frame only") {
    struct Case {
      const char* fault;
      const char* said;
    };
    for (const Case& c : {Case{"picture-crash", "crashed the decoder (signal 11, Segmentation fault)"},
                          Case{"picture-abort", "made the decoder give up (signal 6)"},
                          Case{"picture-exit", "ended the decoder (exit code 7)"},
                          Case{"picture-hang", "the decoder gave no answer for 3 s"},
                          Case{"picture-babble", "made the decoder talk nonsense"}}) {
      CAPTURE(std::string(c.fault));
      Sabotaged faulty(c.fault);
      auto options = through(FAULTY_ENGINE);
      if (std::string(c.fault) == "picture-hang") options.engine.hang_seconds = 3;
      const auto summary = faulty.cull(options);
      CHECK(summary.frames == 30);
      CHECK(summary.damaged == 1);
      CHECK(faulty.frame().facts.damage == c.said);
      CHECK(faulty.frame().verdict.verdict == Verdict::undecided);
      REQUIRE(faulty.run.errors.size() == 1);
      CHECK(faulty.run.errors[0].line().find(faulty.name + ": " + c.said) != std::string::npos);
      CHECK(faulty.run.progress_ok);
      CHECK(faulty.run.last_done == 30);
      others_are_untouched(faulty);
    }
  }

  TEST_CASE("time in which this process did not run either is no silence of the engine") {
    using namespace std::chrono_literals;
    pipeline::Silence silence;
    for (int i = 0; i < 20; ++i) silence.listened(50ms);
    CHECK(silence.seconds() == doctest::Approx(1));
    silence.listened(1h);  // stopped by Ctrl-Z, and the engine with it
    CHECK(silence.seconds() == doctest::Approx(1.5));
    silence.broken();
    CHECK(silence.seconds() == 0);
  }

  TEST_CASE("a memory bomb costs its frame; what starved beside it is measured again") {
#if defined(__SANITIZE_ADDRESS__)
    MESSAGE("address space can't be limited under the address sanitizer");
#else
    Sabotaged faulty("picture-bomb");
    auto options = through(FAULTY_ENGINE);
    options.engine.memory_bytes = 3ull << 30;
    const auto summary = faulty.cull(options);
    CHECK(summary.frames == 30);
    CHECK(summary.damaged == 1);
    CHECK_FALSE(faulty.frame().facts.damage.empty());
    CHECK(faulty.frame().verdict.verdict == Verdict::undecided);
    others_are_untouched(faulty);
#endif
  }

  TEST_CASE("two files that crash it in one burst, and one more in another") {
    Sabotaged faulty("picture-crash");
    fs::rename(faulty.s.folder.at("DCIM/101SALTM/BSG_0015.JPG"),
               faulty.s.folder.at("DCIM/101SALTM/at-picture-crash-2.JPG"));
    fs::rename(faulty.s.folder.at("DCIM/101SALTM/BSG_0001.JPG"),
               faulty.s.folder.at("DCIM/101SALTM/at-picture-crash-3.JPG"));
    std::string first;
    for (const int threads : {1, 4}) {
      Recorder run;
      const auto summary = faulty.s.cull(run, through(FAULTY_ENGINE, threads), "c" + std::to_string(threads));
      CHECK(summary.damaged == 3);
      CHECK(summary.keep > 0);
      std::string text;
      for (BurstOutcome b : run.bursts) {
        for (FrameOutcome& f : b.frames) f.sidecars.clear();  // written by the first of the two runs
        text += report::burst_json(b) + "\n";
      }
      if (first.empty()) first = text;
      CHECK((text == first));
    }
  }

  TEST_CASE("metadata that crashes the reader: the picture is measured all the same") {
    Sabotaged faulty("capture-crash");
    const auto summary = faulty.cull();
    CHECK(summary.frames == 30);
    CHECK(summary.damaged == 0);
    REQUIRE(faulty.run.errors.size() == 1);
    CHECK(faulty.run.errors[0].text == "crashed the decoder (signal 11, Segmentation fault)");
    CHECK(faulty.frame().facts.decoded);
  }

  TEST_CASE("a file that crashes the first look at it is named, the others are culled") {
    Sabotaged faulty("identity-hang");
    auto options = through(FAULTY_ENGINE);
    options.engine.hang_seconds = 3;
    const auto summary = faulty.cull(options);
    CHECK(summary.frames == 29);
    REQUIRE(faulty.run.errors.size() == 1);
    CHECK(faulty.run.errors[0].line().find("at-identity-hang.JPG: the decoder gave no answer") !=
          std::string::npos);
  }

  TEST_CASE("a mosaic that crashes: the frame keeps what its preview said, with a note") {
    SampleFolder plain;
    Recorder clean;
    plain.cull(clean);
    // A raw whose mosaic was read.
    std::string raw;
    for (const BurstOutcome& b : clean.bursts)
      for (const FrameOutcome& f : b.frames)
        for (const Measure& m : f.facts.measures)
          if (m.basis == "raw mosaic" && f.frame.raw && !f.frame.jpeg) raw = f.frame.raw->path;
    REQUIRE_FALSE(raw.empty());
    Sabotaged faulty("mosaic-crash", fs::relative(raw, plain.folder.path).string());
    const auto summary = faulty.cull();
    CHECK(summary.damaged == 0);
    CHECK(summary.errors == 0);
    const auto& notes = faulty.frame().facts.notes;
    CHECK(std::any_of(notes.begin(), notes.end(), [](const std::string& n) {
      return n.find("highlights judged from the embedded preview: crashed the decoder") == 0;
    }));
  }

  TEST_CASE("a crash is remembered, a hang is tried again next time") {
    Sabotaged crash("picture-crash");
    crash.cull();
    Recorder second;
    CHECK(crash.s.cull(second, through(FAULTY_ENGINE), "c1").measured == 0);

    Sabotaged hang("picture-hang");
    auto options = through(FAULTY_ENGINE);
    options.engine.hang_seconds = 3;
    hang.cull(options);
    Recorder healed;
    const auto summary = hang.s.cull(healed, through(BURSTSIEVE_PROGRAM), "c1");
    CHECK(summary.measured > 0);
    CHECK(summary.damaged == 0);
  }

  TEST_CASE("no program, one that is something else, or one that dies at once: the run says why") {
    SampleFolder s;
    auto catalog = Catalog::open(s.folder.at("c"), kEngineVersion);
    REQUIRE(catalog);
    RealFileSystem files;
    ManualClock clock(0);
    Recorder r;
    const auto error_of = [&](const std::string& program) {
      auto options = through(program);
      options.places = {s.folder.at("DCIM")};
      options.engine.hang_seconds = 5;
      const auto done = pipeline::cull(options, *catalog, files, clock, r);
      return done ? std::string("it ran") : done.error().line();
    };
    CHECK(error_of("/no/such/program") ==
          "/no/such/program: the engine process can't be started: No such file or directory");
    CHECK(error_of("/bin/true").find("/bin/true: the engine process can't be started") == 0);
    const WithEnvironment die("FAULTY_ENGINE_START", "die");
    CHECK(error_of(FAULTY_ENGINE).find("can't be started (the cable came off)") != std::string::npos);
  }

  TEST_CASE("a system that refuses the filter: said once, or refused when it is required") {
    const WithEnvironment refuse("FAULTY_ENGINE_NO_FILTER", "1");
    SampleFolder s;
    Recorder r;
    CHECK(s.cull(r, through(FAULTY_ENGINE)).frames == 30);
    REQUIRE(r.notes.size() == 1);
    CHECK(r.notes[0].text.find("this system refuses the system call filter") == 0);
    CHECK(r.notes[0].text.find("photographs are decoded without it") != std::string::npos);
    auto options = through(FAULTY_ENGINE);
    options.engine.require_sandbox = true;
    CHECK_THROWS_WITH_AS(s.cull(r, options), doctest::Contains("the engine process can't be protected"),
                         std::runtime_error);
  }

  TEST_CASE("stop while the engine is at work: what was finished stays, a later run goes on") {
    SampleFolder s;
    auto catalog = Catalog::open(s.folder.at("c"), kEngineVersion);
    REQUIRE(catalog);
    RealFileSystem files;
    ManualClock clock(0);
    struct Stopper : Recorder {
      void progress(std::size_t done, std::size_t total) override {
        Recorder::progress(done, total);
        if (done >= 8) stop = true;
      }
      std::atomic<bool> stop{false};
    } stopper;
    auto options = through(BURSTSIEVE_PROGRAM);
    options.places = {s.folder.at("DCIM")};
    const auto first = pipeline::cull(options, *catalog, files, clock, stopper, &stopper.stop);
    REQUIRE(first);
    CHECK(first->measured < 30);
    Recorder rest;
    const auto second = pipeline::cull(options, *catalog, files, clock, rest);
    REQUIRE(second);
    CHECK(second->measured + second->remembered == 30);
    CHECK(second->remembered == first->measured);
  }
}
