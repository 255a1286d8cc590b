// Curves from samples whose true share is known, and the committed curves on frames that were held out.
#include "reliability.h"

#include <doctest/doctest.h>

#include <algorithm>
#include <map>
#include <random>

#include "base/temp_folder.h"
#include "outing.h"

using namespace burstsieve;
using calibrate::Sample;

namespace {

// `n` values whose evidence is spread evenly and right with the probability share(evidence).
template <class Share>
std::vector<Sample> drawn(int n, unsigned seed, Share share) {
  std::mt19937 rng(seed);
  const auto uniform = [&] { return (static_cast<double>(rng()) + .5) / 4294967296.0; };
  std::vector<Sample> out;
  for (int i = 0; i < n; ++i) {
    const double evidence = uniform();
    out.push_back({"x", false, evidence, uniform() < share(evidence), 0, 0, 0});
  }
  return out;
}

measure::TrustCurve curve_of(const std::vector<Sample>& samples) {
  measure::TrustCurve curve;
  curve.share = calibrate::fitted(samples);
  return curve;
}

}  // namespace

TEST_SUITE("calibrate/reliability") {
  TEST_CASE("an instrument that says 1 - (1 - e)^2 too little is put right within .05 on other samples") {
    const auto truth = [](double e) { return .2 + .7 * (1 - (1 - e) * (1 - e)); };
    const auto curve = curve_of(drawn(4000, 1, truth));
    auto held_out = drawn(20000, 2, truth);
    CHECK(calibrate::calibration_error(held_out) > .1);
    for (Sample& s : held_out) s.confidence = measure::calibrated(curve, s.confidence);
    CHECK(calibrate::calibration_error(held_out) < .02);
    for (const auto& bin : calibrate::binned(held_out))
      if (bin.values > 1000) CHECK(std::abs(bin.share() - bin.confidence) < .05);
  }

  TEST_CASE("a curve rises even where the samples fall, and pools them at their mean") {
    const auto curve = curve_of(drawn(6000, 3, [](double e) { return e < .5 ? .8 : .4; }));
    CHECK(std::is_sorted(curve.share.begin(), curve.share.end(), [](double a, double b) { return a <= b; }));
    CHECK(curve.share.back() - curve.share.front() < .1);
    CHECK(measure::calibrated(curve, .6) == doctest::Approx(.6).epsilon(.07));
  }

  TEST_CASE("weak evidence without samples does not count as much as strong evidence with them") {
    auto strong = drawn(4000, 4, [](double) { return .9; });
    std::erase_if(strong, [](const Sample& s) { return s.confidence < .8; });
    const auto curve = curve_of(strong);
    CHECK(measure::calibrated(curve, .95) == doctest::Approx(.9).epsilon(.03));
    CHECK(measure::calibrated(curve, .1) < .6);
  }

  TEST_CASE("evidence comes back from what was made of it") {
    const auto curve = curve_of(drawn(3000, 5, [](double e) { return e * e; }));
    for (double e = .05; e <= 1; e += .05)
      CHECK(measure::evidence_of(curve, measure::calibrated(curve, e)) == doctest::Approx(e).epsilon(1e-6));
    CHECK(measure::calibrated(curve, 0) == 0);
  }

  TEST_CASE("the committed curves are sorted, rise, and stay between 0 and 1") {
    const auto curves = measure::trust_curves();
    CHECK(curves.size() > 20);
    for (const auto& c : curves) {
      CAPTURE(std::string(c.id));
      CHECK(c.share.front() > 0);
      CHECK(c.share.back() < 1);
      for (std::size_t k = 1; k < c.share.size(); ++k) CHECK(c.share[k] > c.share[k - 1]);
      CHECK((c.within.absolute > 0 || c.within.relative > 0));
    }
  }

  // The whole table, from a thousand frames, is in docs/measures.md; here: nothing is far off.
  TEST_CASE("on frames that were held out, measures with many values are within .15 of their confidence") {
#ifndef __SANITIZE_ADDRESS__
    calibrate::OutingOptions options;
    options.bursts = 24;
    options.seed = 777;
    const test::TempFolder folder;
    const auto samples = calibrate::samples_of_outing(options, folder.path, {});
    REQUIRE(samples);
    std::map<std::string, std::vector<Sample>> by;
    for (const Sample& s : *samples)
      if (!s.sensor) by[s.measure].push_back(s);
    CHECK(by.size() > 10);
    for (const auto& [measure, values] : by) {
      if (values.size() < 100) continue;
      CAPTURE(measure);
      CHECK(calibrate::calibration_error(values) < .15);
    }
#endif
  }
}
