// A generated season with all fault types mixed: what the policy costs and saves, against the truth.
#include <doctest/doctest.h>

#include <cstdlib>
#include <utility>

#include "pipeline/sample.h"
#include "poses.h"
#include "verdicts.h"

using namespace burstsieve;
using test::Recorder;

TEST_SUITE("pipeline/season") {
  // Under sanitizers rendering takes thirty times as long: a few bursts show that the code is clean; the
  // figures are the ordinary build's business.
#ifdef __SANITIZE_ADDRESS__
  constexpr int kBursts = 4;
#else
  constexpr int kBursts = 60;
#endif

  // The seed is held out: limits were set on others.
  TEST_CASE("60 bursts: the true best of a pose is not rejected, ruined frames are seldom kept") {
    test::SampleFolder season{false};
    const std::string command = "'" BURSTSIEVE_GENERATE "' '" + season.folder.path +
                                "' --set season --seed 20261 --bursts " + std::to_string(kBursts) +
                                " >/dev/null";
    REQUIRE(std::system(command.c_str()) == 0);
    Recorder run;
    pipeline::CullOptions options;
    options.dry_run = true;
    season.cull(run, options);
    CHECK(run.errors.empty());
    const auto truth = season_check::read_truth(season.folder.path);
    REQUIRE(truth);
    std::vector<season_check::JudgedFrame> judged;
    std::vector<season_check::Labelled> groups;
    for (const BurstOutcome& b : run.bursts) {
      season_check::Labelled labelled;
      for (const FrameOutcome& f : b.frames) {
        const auto* t = season_check::true_frame(*truth, season.folder.path, f.frame.main().path);
        REQUIRE(t);
        judged.push_back({t, f.verdict.verdict, rank::is_spare(f.verdict), f.verdict.pose});
        labelled.groups.push_back(f.verdict.pose);
        labelled.poses.push_back(t->pose);
      }
      groups.push_back(std::move(labelled));
    }
    const season_check::Confusion c = season_check::confusion(judged);
    const season_check::PoseAgreement poses = season_check::agreement(groups);
    MESSAGE(season_check::table(c) << "adjusted Rand index " << poses.mean_index << " (mean of bursts), "
                                   << poses.pooled_index << " (pooled)");
    CHECK(c.best.reject == 0);
    if (kBursts < 60) return;
    const auto share = [](std::size_t n, std::size_t of) {
      return static_cast<double>(n) / static_cast<double>(of);
    };
    CHECK(c.postures > 80);
    CHECK(c.ruined.all() > 40);
    CHECK(share(c.best_or_equal_kept, c.postures) >= .88);
    CHECK(share(c.ruined.reject, c.ruined.all()) >= .47);
    CHECK(share(c.ruined.keep, c.ruined.all()) <= .12);
    CHECK(share(c.left, c.frames) <= .25);
    CHECK(poses.pooled_index >= .83);
    CHECK(poses.mean_index >= .71);
  }
}
