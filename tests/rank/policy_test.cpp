#include "burstsieve/rank/policy.h"

#include <doctest/doctest.h>

#include <cmath>
#include <random>

#include "burstsieve/rank/motion_kind.h"

using namespace burstsieve;

namespace {

FrameFacts facts(double blur, double confidence = .9) {
  FrameFacts f;
  f.decoded = true;
  f.measures.push_back({"blur_sigma_px", blur, "px", confidence, "jpeg"});
  f.measures.push_back({"texture_blur_px", blur, "px", confidence, "jpeg"});  // the second witness
  return f;
}

FrameFacts with(FrameFacts f, const char* id, double value, double confidence = .9) {
  f.measures.push_back({id, value, "", confidence, "raw mosaic"});
  return f;
}

FrameFacts clipped(FrameFacts f, double r, double g, double b, double confidence = .9) {
  return with(with(with(std::move(f), "white_clipped_r", r, confidence), "white_clipped_g", g, confidence),
              "white_clipped_b", b, confidence);
}

std::vector<FrameVerdict> judged(const std::vector<FrameFacts>& all, const std::vector<int>& poses = {}) {
  std::vector<rank::Contender> c;
  for (std::size_t i = 0; i < all.size(); ++i)
    c.push_back({"F" + std::to_string(i), &all[i], poses.empty() ? 1 : poses[i]});
  return rank::judge(c, {});
}

}  // namespace

TEST_SUITE("rank/policy") {
  TEST_CASE(
      "the sharpest of a pose is kept, a much softer look-alike goes, a close one is left to the "
      "photographer") {
    const auto v = judged({facts(1.6), facts(.9), facts(1.0)});
    CHECK(v[1].verdict == Verdict::keep);
    CHECK(v[1].rating == 5);
    CHECK(v[1].place == 1);
    CHECK(v[0].verdict == Verdict::reject);
    CHECK(v[0].rating == -1);
    CHECK(v[0].better == "F1");
    CHECK(v[0].reasons.front().code == "softer");
    CHECK(v[0].reasons.front().value == doctest::Approx(1.6 / .9));
    CHECK(v[2].verdict == Verdict::undecided);
    CHECK_FALSE(v[2].rating);
    CHECK(rank::is_spare(v[2]));
    CHECK_FALSE(rank::is_spare(v[1]));
  }
  TEST_CASE("spare is only what is sound itself, beside a frame that is kept") {
    const auto doubtful_whites = [](double blur) { return clipped(facts(blur), .2, .2, .2, .2); };
    CHECK_FALSE(rank::is_spare(judged({facts(.9), doubtful_whites(.9)})[1]));
    for (const FrameVerdict& v : judged({doubtful_whites(.9), doubtful_whites(.95)}))
      CHECK_FALSE(rank::is_spare(v));
  }
  TEST_CASE("a suspected fault of the sharpest does not cost the pose its keep") {
    const auto v = judged({clipped(facts(.90), .2, .2, .2, .2), facts(.95)});
    CHECK(v[1].verdict == Verdict::keep);
    CHECK(v[1].place == 1);
    CHECK(v[0].verdict == Verdict::undecided);
    // One that is surely softer does not take its place.
    CHECK(judged({clipped(facts(.90), .06, .06, .06, .2), facts(1.9)})[1].verdict != Verdict::keep);
  }
  TEST_CASE("clipped whites of a JPEG alone are gone; beside a raw they are not yet") {
    FrameFacts f = facts(.9);
    for (const char* id : {"white_clipped_r", "white_clipped_g", "white_clipped_b"})
      f.measures.push_back({id, .3, "", .95, "jpeg"});
    const FrameFacts sound = facts(.9);
    const auto with_raw = rank::judge({{"a", &sound, 1}, {"b", &f, 1, false, true}}, {}),
               alone = rank::judge({{"a", &sound, 1}, {"b", &f, 1, false, false}}, {});
    CHECK(with_raw[1].verdict == Verdict::undecided);
    CHECK(alone[1].verdict == Verdict::reject);
    CHECK(alone[1].reasons.front().text == "white plumage clipped over 30 %, limit 5.0 % (jpeg)");
  }
  TEST_CASE("a hidden head is a fault as far as it is believed") {
    const auto hidden = [](double confidence) {
      FrameFacts f = facts(.9);
      f.subjects = {{{.1, .1, .3, .3}, std::nullopt, .9, "t"}};
      f.subjects.front().head_view = HeadView::hidden;
      f.subjects.front().head_confidence = confidence;
      return f;
    };
    CHECK(judged({facts(.9), hidden(.9)})[1].verdict == Verdict::reject);
    CHECK(judged({facts(.9), hidden(.9)})[1].reasons.front().code == "head_hidden");
    CHECK(judged({facts(.9), hidden(.6)})[1].verdict == Verdict::undecided);
    CHECK(judged({facts(.9), hidden(.3)})[1].reasons.front().code == rank::kSpare);
    CHECK(judged({hidden(.9)})[0].verdict == Verdict::undecided);
  }
  // Every model must rise with the number it reads and cross a half near the limit.
  TEST_CASE("a reason is the surer the farther its number lies beyond the limit") {
    double last = 0;
    for (const double blur : {2.3, 2.8, 3.5, 5.0}) {
      const double sure = rank::faults_of(facts(blur), {}).front().confidence;
      CHECK(sure > last);
      last = sure;
    }
    CHECK(last > .95);
    CHECK(rank::faults_of(facts(2.21), {}).front().confidence < .95);
    CHECK(rank::faults_of(facts(4, .3), {}).front().confidence < .55);  // the number itself is in doubt
    FrameFacts contradicted = facts(3.0);
    contradicted.measures.back().value = .6;  // fine texture that a soft frame can't show
    CHECK(rank::faults_of(contradicted, {}).front().confidence <
          rank::faults_of(facts(3.0), {}).front().confidence - .1);
  }
  TEST_CASE("two poses, two keeps: a softer frame of another pose is no duplicate") {
    const auto v = judged({facts(.8), facts(1.8)}, {1, 2});
    CHECK(v[0].verdict == Verdict::keep);
    CHECK(v[1].verdict == Verdict::keep);
    CHECK(v[1].rating == 2);
  }
  TEST_CASE("a ruined frame with no look-alike is never rejected") {
    const auto v = judged({facts(6)});
    CHECK(v[0].verdict == Verdict::undecided);
    CHECK(v[0].reasons.front().code == "soft");
  }
  TEST_CASE("when a whole pose is ruined its best stays, undecided") {
    const auto v = judged({facts(6), facts(3), facts(9)});
    CHECK(v[1].verdict == Verdict::undecided);
    CHECK(v[0].verdict == Verdict::reject);
    CHECK(v[2].verdict == Verdict::reject);
  }
  TEST_CASE("a doubtful measure rejects nothing") {
    const auto v = judged({facts(.9), facts(5, .3)});
    CHECK(v[1].verdict == Verdict::undecided);
    CHECK(judged({facts(.9, .2)})[0].verdict == Verdict::undecided);
    CHECK(judged({facts(.9, .2)})[0].reasons.front().code == "unsure");
  }
  TEST_CASE(
      "whites: green or two channels gone is a fault, one channel is not, a doubtful rendering neither") {
    CHECK(judged({facts(.9), clipped(facts(.9), .2, .2, .2)})[1].verdict == Verdict::reject);
    CHECK(judged({facts(.9), clipped(facts(.95), .4, 0, 0)})[1].verdict == Verdict::undecided);
    CHECK(judged({facts(.9), clipped(facts(.9), .2, .2, .2, .2)})[1].verdict == Verdict::undecided);
    const auto v = judged({facts(.9), clipped(facts(.8), .3, .3, .3)});
    CHECK(v[0].verdict == Verdict::keep);  // held whites before the last hair of sharpness
    CHECK(v[1].reasons.front().code == "whites_clipped");
  }
  TEST_CASE("recoverable whites are named and hold up a keep, but reject nothing; whites that are gone do") {
    const auto shares = [](double one, double two, double all) {
      return with(with(with(clipped(facts(.9), all, one + two + all, two + all), "white_recoverable", one),
                       "white_partly", two),
                  "white_gone", all);
    };
    const auto one = judged({facts(.9), shares(.4, 0, 0)});
    CHECK(one[1].verdict == Verdict::undecided);
    CHECK(one[1].reasons.front().code == "whites_clipped");
    CHECK(one[1].reasons.front().text.find("recoverable") != std::string::npos);
    CHECK(judged({facts(.9), shares(0, .2, 0)})[1].verdict == Verdict::reject);
    CHECK(judged({facts(.9), shares(.1, 0, .2)})[1].verdict == Verdict::reject);
    CHECK(judged({facts(.9), shares(.02, .01, .01)})[1].reasons.front().code != "whites_clipped");
    // Of two that are else alike the one with the smaller loss stands higher.
    const FrameFacts recoverable = shares(.4, 0, 0), gone = shares(0, 0, .4);
    CHECK(rank::standing_of(recoverable).score > rank::standing_of(gone).score);
    CHECK(rank::standing_of(facts(.9)).score > rank::standing_of(recoverable).score);
  }
  TEST_CASE("a second, soft subject changes no verdict: the photographer may have meant the first alone") {
    const auto two = [](double first, double second) {
      FrameFacts f = with(with(facts(first), "least_sharp_px", second), "subject_count", 2);
      f.subjects = {{{.1, .1, .3, .3}, std::nullopt, .9, "t", {{"blur_sigma_px", first, "px", .9, "jpeg"}}},
                    {{.6, .1, .3, .3}, std::nullopt, .9, "t", {{"blur_sigma_px", second, "px", .9, "jpeg"}}}};
      return f;
    };
    const auto alone = judged({facts(.9), facts(.95), facts(5)}),
               beside = judged({two(.9, 8), two(.95, .9), two(5, 1)});
    for (std::size_t i = 0; i < alone.size(); ++i) {
      CHECK(beside[i].verdict == alone[i].verdict);
      CHECK(beside[i].rating == alone[i].rating);
      CHECK(beside[i].place == alone[i].place);
      CHECK((beside[i].reasons == alone[i].reasons));
    }
  }
  TEST_CASE("missed focus is named with the side it went to, and only for a soft subject") {
    const auto focus = [](double blur, double ratio, double side, double confidence = .8) {
      FrameFacts f = with(with(facts(blur), "focus_elsewhere", ratio, confidence), "focus_elsewhere_side",
                          side, confidence);
      f = with(with(f, "focus_elsewhere_x", .05, confidence), "focus_elsewhere_w", .2, confidence);
      return with(with(f, "focus_elsewhere_y", .7, confidence), "focus_elsewhere_h", .3, confidence);
    };
    const auto first = [](const FrameFacts& f) { return judged({facts(.9), f})[1].reasons.front(); };
    CHECK(first(focus(3.1, 4, -1)).code == "missed_focus");
    CHECK(first(focus(3.1, 4, -1)).text ==
          "focus landed on the foreground, subject 3.1 px soft, limit 2.2 px");
    CHECK(first(focus(3.1, 4, 1)).text.starts_with("focus landed on the background, subject 3.1 px soft"));
    CHECK(first(focus(3.1, 4, 0)).text.starts_with("focus landed elsewhere, at the lower left, subject"));
    CHECK(judged({facts(.9), focus(3.1, 4, -1)})[1].verdict == Verdict::reject);
    // Soft for another reason, in doubt, or streaked: the plain fault stands.
    CHECK(first(focus(3.1, 1.2, -1)).code == "soft");
    CHECK(first(focus(3.1, 4, -1, .3)).code == "soft");
    CHECK(first(with(focus(3.1, 4, -1), "motion_px", 12)).code != "missed_focus");
    // A sharp foreground alone is no fault of a frame whose subject is sharp, too.
    const FrameFacts sharp = with(facts(.9), "focus_elsewhere", 1);
    CHECK(judged({sharp})[0].verdict == Verdict::keep);
    // Where the map lays the sharp edges to something else, the frame is neither kept nor rejected.
    const auto doubtful = judged({focus(.9, 1, -1, .4)});
    CHECK(doubtful[0].verdict == Verdict::undecided);
    CHECK(doubtful[0].reasons.front().text.starts_with("focus may have landed on the foreground"));
    CHECK(judged({facts(.85), focus(.9, 1, -1)})[1].verdict == Verdict::undecided);
  }
  TEST_CASE("a fault that only a rendering shows says so") {
    FrameFacts f = facts(.9);
    for (const char* id : {"white_clipped_r", "white_clipped_g", "white_clipped_b"})
      f.measures.push_back({id, .2, "", .5, "jpeg"});
    const auto v = judged({f});
    CHECK(v[0].reasons.front().text.find("rendered jpeg, less sure") != std::string::npos);
    CHECK(v[0].verdict == Verdict::undecided);
  }
  TEST_CASE("a softer frame is not sent off for a sharper one whose whites are in doubt") {
    const auto v = judged({facts(1.4), clipped(facts(.8), .2, .2, .2, .2)});
    CHECK(v[0].verdict == Verdict::undecided);
    CHECK(v[1].verdict == Verdict::undecided);
  }
  TEST_CASE("doubtful whites never make one of two equally soft frames go") {
    for (const double confidence : {.1, .2}) {
      CAPTURE(confidence);
      const auto v = judged({facts(2.3), clipped(facts(2.3), .08, .08, .08, confidence)});
      CHECK(v[0].verdict == Verdict::undecided);
      CHECK(v[1].verdict == Verdict::undecided);
    }
  }
  TEST_CASE("below the common floor frames count as equally sharp, whatever else is wrong with them") {
    const auto v = judged({with(facts(.5), "cut_by_edge", .15, .7), with(facts(.6), "cut_by_edge", .15, .7)});
    CHECK(v[0].verdict == Verdict::undecided);
    CHECK(v[1].verdict == Verdict::undecided);
  }
  TEST_CASE("a reduced copy does not beat its own original: its pixels are others") {
    FrameFacts original = facts(1.2), copy = facts(.8);
    original.pixel_width = 6000, original.pixel_height = 4000;
    copy.pixel_width = 2000, copy.pixel_height = 3000;
    const auto v = judged({original, copy});
    CHECK(v[0].verdict == Verdict::keep);
    CHECK(v[1].verdict == Verdict::keep);
  }
  TEST_CASE("a frame that the photographer rejected is nobody's better look-alike") {
    const std::vector<FrameFacts> all{facts(1.6), facts(.8)};
    const auto v = rank::judge({{"soft", &all[0], 1}, {"sharp", &all[1], 1, true}}, {});
    CHECK(v[0].verdict == Verdict::keep);
    CHECK(v[1].verdict == Verdict::undecided);
    CHECK_FALSE(v[1].rating);
  }
  TEST_CASE("motion and cut are faults with their numbers in the text") {
    const auto v = judged({facts(.9), with(facts(1.2), "motion_px", 9), with(facts(1.0), "cut_by_edge", .3)});
    CHECK(v[1].verdict == Verdict::reject);
    CHECK(v[1].reasons.front().text.find("9.0 px") != std::string::npos);
    CHECK(v[2].verdict == Verdict::reject);
    CHECK(v[2].reasons.front().code == "cut");
  }
  TEST_CASE("a streak's reason says who moved; a streaked background alone is no fault") {
    const auto moved = [](double px, double deg, double back_px, double back_deg) {
      FrameFacts f = with(with(facts(1.2), "motion_px", px), "motion_deg", deg);
      return with(with(std::move(f), "background_motion_px", back_px), "background_motion_deg", back_deg);
    };
    const FrameFacts subject = moved(12, 30, 0, 0), camera = moved(11, 24, 11.5, 26),
                     both = moved(12, 30, 25, -40), turned = moved(11, 89, 11.5, -89);
    CHECK(rank::motion_kind(subject).kind == rank::MotionKind::subject);
    CHECK(rank::motion_kind(camera).kind == rank::MotionKind::camera);
    CHECK(rank::motion_kind(turned).kind ==
          rank::MotionKind::camera);  // 2 degrees apart, through the vertical
    CHECK(rank::motion_kind(both).kind == rank::MotionKind::both);
    CHECK(rank::faults_of(subject, {}).front().text == "subject moved 12 px along 30 degrees, limit 6.0 px");
    CHECK(rank::faults_of(camera, {}).front().text.starts_with("camera shake of 11 px along 24 degrees"));
    const FrameFacts pan = moved(0, 0, 60, 2);
    CHECK(rank::motion_kind(pan).kind == rank::MotionKind::pan);
    const auto v = judged({facts(1.0), pan});
    CHECK(rank::faults_of(pan, {}).empty());
    CHECK(v[1].verdict != Verdict::reject);
    CHECK(judged({pan})[0].verdict == Verdict::keep);
  }
  TEST_CASE("damaged and unmeasured frames are undecided and say why") {
    FrameFacts broken = facts(.7);
    broken.damage = "data ends early";
    FrameFacts unread;
    unread.damage = "not a picture";
    FrameFacts empty;
    empty.decoded = true;
    const auto v = judged({facts(1), broken, unread, empty});
    CHECK(v[0].verdict == Verdict::keep);  // the damaged one does not outrank it
    CHECK(v[1].verdict == Verdict::undecided);
    CHECK(v[1].reasons.front().code == "damaged");
    CHECK(v[2].verdict == Verdict::undecided);
    CHECK(v[3].reasons.front().code == "unmeasured");
  }

  // The promises, on bursts nobody thought of.
  TEST_CASE("every reject has a sure reason and a better look-alike that stays; every burst keeps a frame") {
    std::mt19937 rng(11);
    const auto uniform = [&] { return static_cast<double>(rng() % 10'000) / 10'000; };
    int rejects = 0;
    for (int round = 0; round < 500; ++round) {
      std::vector<FrameFacts> all;
      std::vector<int> poses;
      const std::size_t n = 1 + rng() % 12;
      for (std::size_t i = 0; i < n; ++i) {
        FrameFacts f = facts(.4 + 5 * uniform() * uniform(), uniform());
        if (rng() % 3 == 0) f = with(f, "motion_px", 20 * uniform(), uniform());
        if (rng() % 3 == 0) f = clipped(f, uniform(), uniform(), uniform(), uniform());
        if (rng() % 4 == 0) f = with(f, "cut_by_edge", uniform(), uniform());
        if (rng() % 8 == 0) f.damage = "planted";
        if (rng() % 9 == 0) f.measures.clear();
        all.push_back(f);
        poses.push_back(static_cast<int>(rng() % 4));
      }
      const auto v = judged(all, poses);
      REQUIRE(v.size() == n);
      std::size_t staying = 0;
      for (std::size_t i = 0; i < n; ++i) {
        CHECK_FALSE(v[i].reasons.empty());
        CHECK(v[i].rating.has_value() == (v[i].verdict != Verdict::undecided));
        if (v[i].verdict == Verdict::keep) CHECK((*v[i].rating >= 1 && *v[i].rating <= 5));
        if (v[i].verdict != Verdict::reject) {
          ++staying;
          continue;
        }
        ++rejects;
        CHECK(v[i].rating == -1);
        CHECK(all[i].damage.empty());
        CHECK(v[i].reasons.front().confidence >= rank::PolicyOptions{}.sure);
        const auto better = static_cast<std::size_t>(std::stoul(v[i].better.substr(1)));
        REQUIRE(better < n);
        CHECK(v[better].verdict != Verdict::reject);
        CHECK(v[better].pose == v[i].pose);
        // It measures better; or it has none of what sends the other off, and is not surely worse.
        const rank::Standing stays = rank::standing_of(all[better]), goes = rank::standing_of(all[i]);
        CHECK((stays.score > goes.score ||
               (rank::faults_of(all[better], {}).empty() &&
                goes.score - stays.score <= std::hypot(stays.uncertainty, goes.uncertainty))));
      }
      CHECK(staying >= 1);
    }
    CHECK(rejects > 100);  // or the test says nothing
  }

  TEST_CASE("stars follow blur, and lost whites cost one") {
    CHECK(rank::stars_of(facts(.8), {}) == 5);
    CHECK(rank::stars_of(facts(1.1), {}) == 4);
    CHECK(rank::stars_of(facts(1.5), {}) == 3);
    CHECK(rank::stars_of(facts(1.9), {}) == 2);
    CHECK(rank::stars_of(facts(2.1), {}) == 1);
    CHECK(rank::stars_of(clipped(facts(.8), .04, .04, .04), {}) == 4);
  }
  TEST_CASE("only frames that may stay have their mosaic read") {
    const std::vector<FrameFacts> all{facts(.9), facts(4), FrameFacts{}};
    std::vector<rank::Contender> c;
    for (const auto& f : all) c.push_back({"x", &f, 1});
    CHECK(rank::in_contention(c, {}) == std::vector<bool>{true, false, false});
  }
  TEST_CASE("options out of range are refused") {
    CHECK(rank::PolicyOptions{}.check());
    for (auto member : {&rank::PolicyOptions::soft_px, &rank::PolicyOptions::softer_ratio,
                        &rank::PolicyOptions::clipped, &rank::PolicyOptions::sure}) {
      rank::PolicyOptions o;
      o.*member = -1;
      CHECK_FALSE(o.check());
    }
  }
}
