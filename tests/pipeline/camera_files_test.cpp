// The main job over real camera files: every photograph of the registries' test packages
// (tools/test-data.sh).
#include <doctest/doctest.h>

#include <cstdlib>

#include "base/test_data.h"
#include "pipeline/sample.h"

using namespace burstsieve;
using test::Recorder;

namespace {

struct Real {
  test::SampleFolder own{false};  // for the catalogue
  Recorder run;
  RunSummary summary;
};

// Dry run: the cache is not ours to write sidecars into.
void cull_cache(Real& real, const std::string& package) {
  pipeline::CullOptions options;
  options.places = {test::data_cache() + "/" + package};
  options.dry_run = true;
  options.threads = 2;
  real.summary = real.own.cull(real.run, options);
}

bool fetched(const std::string& package) {
  if (std::filesystem::exists(test::data_cache() + "/" + package)) return true;
  MESSAGE("not fetched, nothing checked: " << package << " (run tools/test-data.sh)");
  return false;
}

}  // namespace

TEST_SUITE("pipeline/camera_files") {
  TEST_CASE(
      "maker test files, many pruned or damaged on purpose: every one is a frame with a verdict or a line "
      "saying why not") {
    for (const char* package : {"exiv2", "libimage-exiftool-perl"}) {
      if (!fetched(package)) continue;
      Real real;
      cull_cache(real, package);
      std::size_t in_frames = 0;
      for (const BurstOutcome& b : real.run.bursts)
        for (const FrameOutcome& f : b.frames) {
          in_frames += (f.frame.raw ? 1 : 0) + (f.frame.jpeg ? 1 : 0) + f.frame.copies.size();
          CHECK_FALSE(f.verdict.reasons.empty());
          // These hold pictures of a few pixels or none: nothing may be thrown away on their word.
          if (!f.facts.damage.empty()) CHECK(f.verdict.verdict == Verdict::undecided);
        }
      CAPTURE(std::string(package));
      CHECK(in_frames == real.summary.scan.raw + real.summary.scan.jpeg);
      CHECK(real.summary.scan.raw + real.summary.scan.jpeg > 50);
      for (const Error& e : real.run.errors) CHECK(e.line().find('\n') == std::string::npos);
      MESSAGE(std::string(package) << ": " << real.summary.scan.raw << " raw, " << real.summary.scan.jpeg
                                   << " JPEG, " << real.summary.frames << " frames, " << real.summary.damaged
                                   << " damaged, " << real.summary.reject << " rejected");
    }
  }

  // Kleiber_by_Lukas_Baubkus.jpg of lomiri-wallpapers-20.04: a sharp nuthatch on a trunk.
  TEST_CASE("a real sharp photograph of a bird is found sharp") {
    const std::string package = "lomiri-wallpapers-20.04";
    if (!fetched(package)) return;
    Real real;
    cull_cache(real, package);
    const FrameOutcome* nuthatch = real.run.frame("Kleiber_by_Lukas_Baubkus.jpg");
    REQUIRE(nuthatch);
    REQUIRE_FALSE(nuthatch->facts.subjects.empty());
    // The bird fills the middle of the frame; drawn by eye.
    const Region& box = nuthatch->facts.subjects.front().box;
    MESSAGE("subject x " << box.x << " y " << box.y << " w " << box.w << " h " << box.h << " by "
                         << nuthatch->facts.subjects.front().source);
    const Measure* blur = find(nuthatch->facts.measures, "blur_sigma_px");
    REQUIRE(blur);
    MESSAGE("blur " << blur->value << " px at confidence " << blur->confidence);
    CHECK(blur->value < 2.2);
    CHECK(nuthatch->verdict.verdict != Verdict::reject);
  }
}
