#include "burstsieve/rank/choice.h"

#include <doctest/doctest.h>

#include <bit>
#include <cmath>
#include <numbers>
#include <random>

#include "burstsieve/rank/policy.h"

using namespace burstsieve;
using rank::KeepOption;

namespace {

double best_worth(const std::vector<KeepOption>& options, const rank::Shows& shows, std::size_t most) {
  double best = 0;
  for (unsigned set = 0; set < 1U << options.size(); ++set) {
    if (static_cast<std::size_t>(std::popcount(set)) > most) continue;
    std::vector<std::size_t> choice;
    for (std::size_t k = 0; k < options.size(); ++k)
      if (set >> k & 1) choice.push_back(k);
    best = std::max(best, rank::worth(options, shows, choice));
  }
  return best;
}

FrameFacts sharp(double blur) {
  FrameFacts f;
  f.decoded = true;
  f.measures = {{"blur_sigma_px", blur, "px", .9, "jpeg"}, {"texture_blur_px", blur, "px", .9, "jpeg"}};
  return f;
}

}  // namespace

TEST_SUITE("rank/choice") {
  TEST_CASE("a second keep goes to another posture rather than to one nearly the same") {
    const std::vector<KeepOption> options{{.5, 1}, {.4, 1}, {.1, .8}};
    const auto shows = [](std::size_t i, std::size_t k) {
      return i + k == 1 ? .95 : 0.0;
    };  // 0 and 1 are alike
    CHECK(rank::chosen_keeps(options, shows, 1) == std::vector<std::size_t>{0});
    CHECK(rank::chosen_keeps(options, shows, 2) == std::vector<std::size_t>{0, 2});
    CHECK(rank::chosen_keeps(options, shows, 9).size() == 3);
    CHECK(rank::chosen_keeps({}, shows, 3).empty());
  }
  // Nemhauser, Wolsey & Fisher 1978: at least 1 - 1/e of the best, which brute force finds.
  TEST_CASE("the choice keeps its guarantee on random bursts, and its worth never falls with the number") {
    std::mt19937 rng(3);
    const auto uniform = [&] { return static_cast<double>(rng() % 1000) / 1000; };
    double least = 1;
    for (int round = 0; round < 150; ++round) {
      const std::size_t n = 2 + rng() % 8;
      std::vector<KeepOption> options(n);
      for (KeepOption& o : options) o = {uniform() / static_cast<double>(n), uniform()};
      std::vector<double> table(n * n);
      for (double& v : table) v = uniform();
      const auto shows = [&](std::size_t i, std::size_t k) { return table[i * n + k]; };
      double last = 0;
      for (std::size_t most = 1; most <= n; ++most) {
        const auto choice = rank::chosen_keeps(options, shows, most);
        const double w = rank::worth(options, shows, choice);
        CHECK(w >= last);
        last = w;
        least = std::min(least, w / best_worth(options, shows, most));
      }
    }
    CHECK(least >= 1 - 1 / std::numbers::e);
    CHECK(least < 1);  // or the rounds were all too easy to say anything
  }
  TEST_CASE("--keep 2 of a burst of four postures keeps two, rejects nothing for it, and says why") {
    const std::vector<FrameFacts> all{sharp(.8), sharp(.8), sharp(1.0), sharp(.8), sharp(1.9)};
    std::vector<rank::Contender> c;
    for (std::size_t i = 0; i < all.size(); ++i)
      c.push_back({"F" + std::to_string(i), &all[i], std::vector{1, 1, 2, 3, 4}[i]});
    rank::PolicyOptions options;
    options.keep_most = 2;
    const auto v = rank::judge(c, options);
    std::size_t keeps = 0;
    for (const FrameVerdict& one : v) {
      keeps += one.verdict == Verdict::keep;
      CHECK(one.verdict != Verdict::reject);
      CHECK(one.rating.has_value() == (one.verdict == Verdict::keep));
    }
    CHECK(keeps == 2);
    CHECK(v[0].verdict == Verdict::keep);  // half of the burst
    CHECK(v[4].verdict == Verdict::undecided);
    CHECK(v[4].reasons.front().code == rank::kOverNumber);
    CHECK(v[4].reasons.front().text.find("2 frames") != std::string::npos);
    options.keep_most = -1;
    CHECK_FALSE(options.check());
  }
}
