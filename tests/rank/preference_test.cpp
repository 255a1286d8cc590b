// The model behind the order inside a pose: what it adds up, what ties, what taste may do and what not.
#include "burstsieve/rank/preference.h"

#include <doctest/doctest.h>

#include <cmath>
#include <random>

#include "burstsieve/rank/ordering.h"
#include "burstsieve/rank/policy.h"
#include "season_of_taste.h"

using namespace burstsieve;

namespace {

class Dice {
 public:
  explicit Dice(unsigned seed) : rng_(seed) {}
  double operator()() { return static_cast<double>(rng_() % 10'000) / 10'000; }
  bool one_in(unsigned n) { return rng_() % n == 0; }

 private:
  std::mt19937 rng_;
};

void put(FrameFacts& f, const char* id, double value, double confidence) {
  f.measures.push_back({id, value, "", confidence, "raw mosaic"});
}

FrameFacts any_frame(Dice& dice) {
  FrameFacts f;
  f.decoded = true;
  put(f, "blur_sigma_px", .4 + 5 * dice() * dice(), dice());
  if (dice.one_in(3)) put(f, "motion_px", 20 * dice(), dice());
  if (dice.one_in(3)) {
    const double sure = dice();
    for (const char* id : {"white_clipped_r", "white_clipped_g", "white_clipped_b"}) put(f, id, dice(), sure);
    if (dice.one_in(2))
      for (const char* id : {"white_recoverable", "white_partly", "white_gone"}) put(f, id, dice() / 3, sure);
  }
  if (dice.one_in(4)) put(f, "cut_by_edge", dice(), dice());
  if (dice.one_in(2)) put(f, "shadow_blocked", dice(), dice());
  if (dice.one_in(2)) put(f, "subject_size", .05 + dice(), dice());
  if (dice.one_in(2)) put(f, "background_motion_px", 40 * dice(), dice());
  Subject s;
  s.box = {.5 * dice(), .3, .1 + .3 * dice(), .3};
  s.head_view = dice.one_in(2) ? HeadView::visible : dice.one_in(2) ? HeadView::hidden : HeadView::unknown;
  s.head_confidence = dice();
  if (s.head_view == HeadView::visible) s.head = Region{s.box.x + dice() * s.box.w, .3, .04, .05};
  f.subjects = {s};
  return f;
}

double value_of(const FrameFacts& f, const char* id) {
  const Measure* m = find(f.measures, id);
  return m ? m->value : 0;
}
double sure_of(const FrameFacts& f, const char* id) {
  const Measure* m = find(f.measures, id);
  return m ? m->confidence : 0;
}

// The score as docs/verdicts.md gave it before there was a model, written down anew.
rank::Standing written_down(const FrameFacts& f) {
  const double streak = value_of(f, "motion_px");
  const double blur =
      std::sqrt(std::pow(value_of(f, "blur_sigma_px"), 2) + sure_of(f, "motion_px") * streak * streak / 24);
  const double lost =
      find(f.measures, "white_gone")
          ? value_of(f, "white_gone") + value_of(f, "white_partly")
          : std::max(value_of(f, "white_clipped_g"),
                     std::min(value_of(f, "white_clipped_r"), value_of(f, "white_clipped_b")));
  const double whites = 4 * (lost + value_of(f, "white_recoverable") / 4);
  const double cut = 2 * value_of(f, "cut_by_edge");
  const double w = sure_of(f, "white_clipped_g"), c = sure_of(f, "cut_by_edge");
  rank::Standing out;
  out.score = -std::log2(std::max(.75, blur)) - w * whites - c * cut;
  out.order = -std::log2(std::max(.3, blur)) - w * whites - c * cut;
  out.uncertainty =
      std::log2(1.08) / std::clamp(sure_of(f, "blur_sigma_px"), .1, 1.0) + (1 - w) * whites + (1 - c) * cut;
  return out;
}

std::vector<FrameVerdict> pose_of(const std::vector<FrameFacts>& all,
                                  const rank::PolicyOptions& options = {}) {
  std::vector<rank::Contender> c;
  for (const FrameFacts& f : all) c.push_back({"F" + std::to_string(c.size()), &f, 1});
  return rank::judge(c, options);
}

FrameFacts plain(double blur) {
  FrameFacts f;
  f.decoded = true;
  put(f, "blur_sigma_px", blur, .9);
  f.subjects = {{{.4, .4, .2, .2}, std::nullopt, .9, "t"}};
  return f;
}

FrameFacts head(FrameFacts f, HeadView view, double confidence = .9) {
  f.subjects[0].head_view = view;
  f.subjects[0].head_confidence = confidence;
  return f;
}

// A bird of a fifth of the frame's width that looks to the right.
FrameFacts looks_right(FrameFacts f, double box_x) {
  f.subjects[0].box = {box_x, .4, .2, .2};
  f.subjects[0].head = Region{box_x + .15, .42, .04, .04};
  return head(std::move(f), HeadView::visible);
}

}  // namespace

TEST_SUITE("rank/preference") {
  TEST_CASE("the default weights give the score that verdicts have rested on") {
    Dice dice(3);
    for (int i = 0; i < 2000; ++i) {
      const FrameFacts f = any_frame(dice);
      const rank::Standing ours = rank::standing_of(f), before = written_down(f);
      CHECK(ours.score == doctest::Approx(before.score).epsilon(1e-12));
      CHECK(ours.order == doctest::Approx(before.order).epsilon(1e-12));
      CHECK(ours.uncertainty == doctest::Approx(before.uncertainty).epsilon(1e-12));
    }
  }
  TEST_CASE("signs and units: each feature points the way its specification says") {
    FrameFacts f = plain(1.5);
    CHECK(rank::features_of(f)[rank::kBlur].value == doctest::Approx(std::log2(1.5)));
    CHECK_FALSE(rank::features_of(f)[rank::kHeadShown].known);
    CHECK(rank::features_of(head(f, HeadView::visible))[rank::kHeadShown].value == doctest::Approx(.9));
    CHECK(rank::features_of(head(f, HeadView::hidden))[rank::kHeadShown].value == doctest::Approx(-.9));
    // .1 behind it, .7 before it; and the other way round.
    CHECK(rank::features_of(looks_right(f, .1))[rank::kRoomAhead].value > .3);
    CHECK(rank::features_of(looks_right(f, .7))[rank::kRoomAhead].value < -.3);
    // A head with no place, or none that is trusted, says nothing of the direction.
    CHECK_FALSE(rank::features_of(head(f, HeadView::visible))[rank::kRoomAhead].known);
    for (const double low : {-.6, .6}) {
      f.mask = test::season_detail::outline(low);
      CHECK(rank::features_of(f)[rank::kWingsUp].known);
      CHECK(rank::features_of(f)[rank::kWingsUp].value * low > 0);
    }
    put(f, "motion_px", 6, 1);
    const auto with_streak = rank::features_of(f);
    CHECK(with_streak[rank::kStreak].value ==
          doctest::Approx(with_streak[rank::kBlur].value - std::log2(1.5)));
    for (std::size_t i = 0; i < rank::kFeatures; ++i)
      CHECK(rank::feature_of(rank::feature_specs()[i].id) == static_cast<rank::Feature>(i));
  }
  TEST_CASE("normalised weights keep their order, their length is the defaults', and bounds hold") {
    rank::Weights w = rank::default_weights();
    for (double& one : w) one *= 3;
    const rank::Weights n = rank::normalised(w);
    for (std::size_t i = 0; i < rank::kFeatures; ++i)
      CHECK(n[i] == doctest::Approx(rank::default_weights()[i]).epsilon(1e-12));
    CHECK((rank::normalised({}) == rank::default_weights()));
  }
}

TEST_SUITE("rank/ties") {
  TEST_CASE("frames that measure alike: the head that shows, then the room in front, decides") {
    // 3 % apart in blur: within the noise of 8 % each.
    const auto heads =
        pose_of({head(plain(1.00), HeadView::hidden, .45), head(plain(1.03), HeadView::visible)});
    CHECK(heads[1].verdict == Verdict::keep);
    CHECK(heads[1].place == 1);
    CHECK(heads[0].verdict == Verdict::undecided);
    CHECK(heads[1].reasons.back().code == "liked");
    CHECK(heads[1].reasons.back().text == "as sharp as F0 within the measurements, and the head shows");
    CHECK(heads[0].reasons.back().text.find("same pose as F1") != std::string::npos);
    const auto room = pose_of({looks_right(plain(1.00), .7), looks_right(plain(1.03), .1)});
    CHECK(room[1].place == 1);
    // Raised wings before lowered ones.
    FrameFacts up = plain(1.03), down = plain(1.00);
    up.mask = test::season_detail::outline(.7), down.mask = test::season_detail::outline(-.7);
    CHECK(pose_of({down, up})[1].place == 1);
  }
  TEST_CASE("taste is silent where the measurements tell frames apart, and where it hardly differs") {
    CHECK(pose_of({head(plain(1.0), HeadView::hidden, .45), head(plain(1.3), HeadView::visible)})[0].place ==
          1);
    CHECK(pose_of({looks_right(plain(1.00), .30), looks_right(plain(1.03), .28)})[0].place == 1);
    CHECK(pose_of({head(plain(1.0), HeadView::unknown), plain(1.03)})[0].place == 1);
    CHECK(pose_of({head(plain(1.0), HeadView::hidden, .05), head(plain(1.03), HeadView::visible, .05)})[0]
              .place == 1);
  }
  TEST_CASE("where nothing of taste is known the order is the measured one") {
    Dice dice(5);
    for (int round = 0; round < 200; ++round) {
      std::vector<FrameFacts> all;
      for (int i = 0; i < 8; ++i) {
        all.push_back(any_frame(dice));
        all.back().subjects.clear();
      }
      const auto v = pose_of(all);
      for (std::size_t a = 0; a < all.size(); ++a)
        for (std::size_t b = 0; b < all.size(); ++b) {
          const auto sure = [&](std::size_t i) {
            for (const Reason& r : rank::faults_of(all[i], {}))
              if (r.confidence >= rank::PolicyOptions{}.sure) return true;
            return false;
          };
          // The one to keep may be a sound frame that stands a little lower (policy.cpp, sort_pose).
          if (v[b].place > 1 && sure(a) == sure(b) &&
              rank::standing_of(all[a]).order > rank::standing_of(all[b]).order)
            CHECK(v[a].place < v[b].place);
        }
    }
  }
  TEST_CASE("a frame with a doubt about it gets no keep by taste that a sound one would lose") {
    FrameFacts doubtful = head(plain(1.0), HeadView::visible);
    put(doubtful, "cut_by_edge", .12, .3);
    const auto v = pose_of({head(plain(1.0), HeadView::hidden, .45), doubtful});
    CHECK(v[0].verdict == Verdict::keep);
    CHECK(v[1].verdict == Verdict::undecided);
  }
}

TEST_SUITE("rank/taste") {
  // The promise that a learnt taste must not touch, on frames and tastes nobody thought of.
  TEST_CASE("whatever was learnt, the same frames are rejected for the same reasons and as many are kept") {
    Dice dice(17);
    int rejects = 0, moved = 0;
    for (int round = 0; round < 400; ++round) {
      std::vector<FrameFacts> all;
      const int n = 2 + static_cast<int>(9 * dice());
      for (int i = 0; i < n; ++i) all.push_back(any_frame(dice));
      rank::PolicyOptions taste;
      taste.learnt.emplace();
      for (std::size_t i = 0; i < rank::kFeatures; ++i) {
        const auto& spec = rank::feature_specs()[i];
        (*taste.learnt)[i] = spec.least + (spec.most - spec.least) * dice();
      }
      const auto before = pose_of(all), after = pose_of(all, taste);
      std::vector<int> places;
      int keeps_before = 0, keeps_after = 0;
      for (std::size_t i = 0; i < all.size(); ++i) {
        CHECK((before[i].verdict == Verdict::reject) == (after[i].verdict == Verdict::reject));
        if (before[i].verdict == Verdict::reject) {
          ++rejects;
          CHECK((before[i].reasons == after[i].reasons));
          CHECK(before[i].better == after[i].better);
          CHECK(after[std::stoul(after[i].better.substr(1))].verdict != Verdict::reject);
        }
        keeps_before += before[i].verdict == Verdict::keep;
        keeps_after += after[i].verdict == Verdict::keep;
        moved += before[i].place != after[i].place;
        places.push_back(after[i].place);
      }
      CHECK(keeps_before == keeps_after);
      std::sort(places.begin(), places.end());
      for (std::size_t i = 0; i < places.size(); ++i) CHECK(places[i] == static_cast<int>(i) + 1);
    }
    CHECK(rejects > 100);  // or the test says nothing
    CHECK(moved > 100);
  }
  TEST_CASE("who loves raised wings gets them, and is told why") {
    FrameFacts up = plain(1.15), down = plain(.9);
    up.mask = test::season_detail::outline(.7), down.mask = test::season_detail::outline(-.7);
    rank::PolicyOptions wings;
    wings.learnt = rank::default_weights();
    (*wings.learnt)[rank::kWingsUp] = 2;
    CHECK(pose_of({down, up})[0].verdict == Verdict::keep);
    const auto v = pose_of({down, up}, wings);
    CHECK(v[1].verdict == Verdict::keep);
    CHECK(v[0].verdict == Verdict::undecided);
    CHECK(v[1].reasons.back().text == "by what your choices taught, before F0: wings higher");
  }
}
