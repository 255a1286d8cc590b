// The promises to the photographer, on real files on disk.
#include <doctest/doctest.h>
#include <sys/stat.h>

#include <cstdio>
#include <nlohmann/json.hpp>

#include "pipeline/sample.h"

using namespace burstsieve;
using test::Recorder;
using test::SampleFolder;

namespace {

std::string output_of(const std::string& command) {
  std::string out;
  FILE* pipe = ::popen(command.c_str(), "r");
  REQUIRE(pipe);
  char block[4096];
  for (std::size_t n; (n = std::fread(block, 1, sizeof block, pipe)) > 0;) out.append(block, n);
  ::pclose(pipe);
  return out;
}

}  // namespace

TEST_SUITE("pipeline/promises") {
  TEST_CASE(
      "a folder renamed while it is culled is not made anew for sidecars of photographs that are gone") {
    SampleFolder samples;
    struct Renamer : Recorder {
      void burst(const BurstOutcome& outcome) override {
        if (bursts.empty()) std::filesystem::rename(from, to);
        Recorder::burst(outcome);
      }
      std::string from, to;
    } run;
    run.from = samples.folder.at("DCIM");
    run.to = samples.folder.at("renamed");
    const auto summary = samples.cull(run);
    CHECK_FALSE(std::filesystem::exists(run.from));
    const std::size_t in_time = run.bursts.at(0).frames.size();
    CHECK(summary.created == in_time);
    std::size_t sidecars = 0;
    for (const auto& e : std::filesystem::recursive_directory_iterator(run.to))
      sidecars += e.path().extension() == ".xmp";
    CHECK(sidecars == in_time);
    CHECK(run.errors.size() >= 30 - in_time);
    CHECK(run.bursts.back().frames.front().sidecars.at(0).change == "failed");
  }

  TEST_CASE("originals are never written: bytes, inode, owner, permissions, links and times stay") {
    SampleFolder samples;
    const auto before = samples.contents(false);
    const auto facts = [&](const std::string& name) {
      struct stat st {};
      REQUIRE(::lstat(samples.folder.at(name).c_str(), &st) == 0);
      st.st_atim = {};  // reading is allowed
      return std::string(reinterpret_cast<const char*>(&st), sizeof st);
    };
    std::map<std::string, std::string> known;
    for (const auto& [name, bytes] : before) known[name] = facts(name);
    Recorder run;
    samples.cull(run);
    CHECK((samples.contents(false) == before));
    for (const auto& [name, was] : known) CHECK_MESSAGE((facts(name) == was), name);
  }

  TEST_CASE("same input, same answer: 1 and 4 threads give the same bytes, in report and sidecars") {
    SampleFolder one, four;
    Recorder a, b;
    pipeline::CullOptions options;
    options.threads = 1;
    one.cull(a, options);
    options.threads = 4;
    four.cull(b, options);
    CHECK(one.contents(true) == four.contents(true));
    CHECK(one.contents(true).size() == 30);
    std::string left = a.text(), right = b.text();
    for (std::size_t at; (at = right.find(four.folder.path)) != std::string::npos;)
      right.replace(at, four.folder.path.size(), one.folder.path);
    CHECK((left == right));  // parenthesised: a mismatch must not print two whole reports
  }

  TEST_CASE("a second run measures nothing, says the same and leaves the sidecars alone") {
    SampleFolder samples;
    Recorder first, second;
    const auto a = samples.cull(first);
    const auto sidecars = samples.contents(true);
    const auto b = samples.cull(second);
    CHECK(a.measured == 30);
    CHECK(a.created == 30);
    CHECK(b.measured == 0);
    CHECK(b.mosaics == 0);
    CHECK(b.remembered == 30);
    CHECK(b.created == 0);
    CHECK(b.unchanged == 30);
    CHECK(samples.contents(true) == sidecars);
    for (std::size_t i = 0; i < first.bursts.size(); ++i)
      for (std::size_t k = 0; k < first.bursts[i].frames.size(); ++k) {
        CHECK(first.bursts[i].frames[k].facts == second.bursts[i].frames[k].facts);
        CHECK(first.bursts[i].frames[k].verdict == second.bursts[i].frames[k].verdict);
      }
  }

  TEST_CASE("stopped and started again, the run ends as an undisturbed one") {
    SampleFolder stopped, whole;
    std::atomic<bool> stop{false};
    struct StopAfterTwo final : pipeline::Listener {
      explicit StopAfterTwo(std::atomic<bool>& s) : flag(s) {}
      void found(const ScanCounts&, std::size_t, std::size_t) override {}
      void progress(std::size_t done, std::size_t) override { flag = done >= 12; }
      void burst(const BurstOutcome&) override { ++bursts; }
      void error(const Error&) override {}
      std::atomic<bool>& flag;
      int bursts = 0;
    } listener(stop);
    {
      auto catalog = Catalog::open(stopped.folder.at("catalog.sqlite"), kEngineVersion);
      REQUIRE(catalog);
      RealFileSystem fs;
      ManualClock clock;
      pipeline::CullOptions options;
      options.places = {stopped.folder.at("DCIM")};
      options.threads = 1;
      REQUIRE(pipeline::cull(options, *catalog, fs, clock, listener, &stop));
    }
    CHECK(listener.bursts >= 1);
    CHECK(listener.bursts < 5);
    Recorder rest, undisturbed;
    const auto summary = stopped.cull(rest);
    whole.cull(undisturbed);
    CHECK(summary.remembered > 0);
    CHECK(stopped.contents(true) == whole.contents(true));
  }

  TEST_CASE("a dry run writes no sidecar and says what it would do") {
    SampleFolder samples;
    Recorder run;
    pipeline::CullOptions options;
    options.dry_run = true;
    const auto summary = samples.cull(run, options);
    CHECK(samples.contents(true).empty());
    CHECK(summary.created == 30);
  }

  // exiftool is the outside reader.
  TEST_CASE("exiftool reads the rating that the verdict says, from every sidecar") {
    SampleFolder samples;
    Recorder run;
    samples.cull(run);
    const auto all = nlohmann::json::parse(output_of("exiftool -j -n -r -ext xmp -XMP-xmp:Rating '" +
                                                     samples.folder.at("DCIM") + "' 2>/dev/null"));
    std::map<std::string, std::optional<int>> read;
    for (const auto& one : all)
      read[leaf_of(one["SourceFile"].get<std::string>())] =
          one.contains("Rating") ? std::optional<int>(one["Rating"].get<int>()) : std::nullopt;
    REQUIRE(read.size() == 30);
    for (const BurstOutcome& b : run.bursts)
      for (const FrameOutcome& f : b.frames) {
        CAPTURE(f.frame.main().path);
        CHECK(read.at(leaf_of(f.frame.main().path) + ".xmp") == f.verdict.rating);
      }
  }

  TEST_CASE("a human's word wins and is remembered as an override") {
    SampleFolder samples;
    Recorder first, second;
    samples.cull(first);
    const FrameOutcome* rejected = first.frame("BSG_0014.JPG");
    REQUIRE(rejected);
    REQUIRE(rejected->verdict.rating == -1);
    const std::string sidecar = rejected->sidecars.front().path;
    output_of("exiftool -overwrite_original -XMP-xmp:Rating=4 '" + sidecar + "' 2>&1");
    const auto changed = samples.contents(true);
    const auto summary = samples.cull(second);
    CHECK(summary.human == 1);
    CHECK(samples.contents(true) == changed);
    REQUIRE(second.frame("BSG_0014.JPG")->sidecars.front().change == "human");
    auto catalog = Catalog::open(samples.folder.at("catalog.sqlite"), kEngineVersion);
    REQUIRE(catalog);
    const auto overrides = catalog->overrides();
    REQUIRE(overrides.size() == 1);
    CHECK(overrides[0].ours == -1);
    CHECK(overrides[0].human == 4.0);
  }

  TEST_CASE("when a person rejects the frame that stayed, its look-alikes are judged without it") {
    SampleFolder samples;
    Recorder first, second;
    samples.cull(first);
    const FrameOutcome* soft = first.frame("BSG_0013.JPG");
    REQUIRE(soft);
    REQUIRE(soft->verdict.better == "BSG_0015.JPG");
    output_of("exiftool -overwrite_original -XMP-xmp:Rating=-1 '" +
              first.frame("BSG_0015.JPG")->sidecars.front().path + "' 2>&1");
    samples.cull(second);
    // Another look-alike may send it off; the one that the person rejected may not.
    CHECK(second.frame("BSG_0013.JPG")->verdict.better != "BSG_0015.JPG");
    CHECK(second.frame("BSG_0015.JPG")->verdict.reasons.front().code == "yours");
  }

  TEST_CASE("two photographs never share a sidecar: the second gets a line, the first keeps its own") {
    SampleFolder samples;
    std::filesystem::copy_file(samples.folder.at("DCIM/101SALTM/BSG_0016.JPG"),
                               samples.folder.at("DCIM/101SALTM/BSG_0015.jpeg"));
    Recorder first, second;
    pipeline::CullOptions options;
    options.sidecars.naming = SidecarNaming::plain;
    const auto a = samples.cull(first, options);
    const auto sidecars = samples.contents(true);
    const auto b = samples.cull(second, options);
    CHECK(a.errors == 1);
    CHECK(b.errors == 1);
    CHECK(b.updated == 0);
    CHECK(samples.contents(true) == sidecars);
  }

  TEST_CASE("one bad file is one bad line: the others' verdicts stay and nothing is lost") {
    SampleFolder samples;
    // Cut in the middle of its picture; a text that calls itself a picture; an empty file; a damaged foreign
    // sidecar.
    std::string jpeg = samples.folder.read("DCIM/101SALTM/BSG_0012.JPG");
    samples.folder.write("DCIM/101SALTM/BSG_0012.JPG", jpeg.substr(0, jpeg.size() / 2));
    samples.folder.write("DCIM/101SALTM/BSG_0900.JPG", "not a picture");
    samples.folder.write("DCIM/101SALTM/BSG_0901.JPG", "");
    samples.folder.write("DCIM/101SALTM/BSG_0013.JPG.xmp", "<x:xmpmeta xmlns:x='adobe:ns:meta/'><rdf:RDF");
    Recorder run;
    const auto summary = samples.cull(run);
    CHECK(summary.scan.other == 1);
    CHECK(summary.scan.empty == 1);
    CHECK(summary.damaged == 1);
    CHECK(summary.frames == 30);
    CHECK(summary.errors == 2);
    REQUIRE(run.errors.size() == 2);
    for (const Error& e : run.errors) {
      CHECK(e.line().find('\n') == std::string::npos);
      CHECK_FALSE(e.file.empty());
    }
    const FrameOutcome* damaged = run.frame("BSG_0012.JPG");
    REQUIRE(damaged);
    CHECK(damaged->verdict.verdict == Verdict::undecided);
    CHECK(damaged->facts.measures.empty());  // never scored: half a frame can look sharp
    CHECK(samples.folder.read("DCIM/101SALTM/BSG_0013.JPG.xmp") ==
          "<x:xmpmeta xmlns:x='adobe:ns:meta/'><rdf:RDF");
    CHECK(run.frame("BSG_0013.JPG")->sidecars.front().change == "failed");
  }

  TEST_CASE("a raw whose mosaic can't be read goes through by its preview, with a note and less confidence") {
    SampleFolder samples;
    std::string dng = samples.folder.read("DCIM/100HARBR/MRS_0213.DNG");
    // The mosaic is the last thing in the file; its preview and metadata come first.
    samples.folder.write("DCIM/100HARBR/MRS_0213.DNG", dng.substr(0, dng.size() - dng.size() / 4));
    Recorder run;
    samples.cull(run);
    const FrameOutcome* o = run.frame("MRS_0213.DNG");
    REQUIRE(o);
    REQUIRE(o->facts.decoded);
    const Measure* whites = find(o->facts.measures, "white_clipped_g");
    REQUIRE(whites);
    CHECK(whites->basis == "embedded preview");
    CHECK(find(o->facts.measures, "headroom_ev")->confidence < .6);
    REQUIRE_FALSE(o->facts.notes.empty());
    CHECK(o->facts.notes.front().find("highlights judged from the embedded preview") != std::string::npos);
  }

  TEST_CASE("sidecars go to a folder of their own when asked") {
    SampleFolder samples;
    Recorder run;
    pipeline::CullOptions options;
    options.sidecars.folder = samples.folder.at("elsewhere");
    samples.cull(run, options);
    CHECK(samples.contents(true).empty());
    CHECK(std::filesystem::exists(samples.folder.at("elsewhere/101SALTM/BSG_0014.JPG.xmp")));
  }

  TEST_CASE("a copy of a frame gets the frame's own verdict") {
    SampleFolder samples;
    std::filesystem::create_directories(samples.folder.at("DCIM/backup"));
    std::filesystem::copy_file(samples.folder.at("DCIM/101SALTM/BSG_0014.JPG"),
                               samples.folder.at("DCIM/backup/BSG_0014.JPG"));
    Recorder run;
    const auto summary = samples.cull(run);
    CHECK(summary.frames == 30);
    CHECK(summary.copies == 1);
    CHECK(samples.folder.read("DCIM/backup/BSG_0014.JPG.xmp") ==
          samples.folder.read("DCIM/101SALTM/BSG_0014.JPG.xmp"));
  }
}
