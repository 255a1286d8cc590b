// Streaks of known length and direction, and what moved, on natural textures.
#include <doctest/doctest.h>

#include <array>
#include <cstdlib>
#include <map>

#include "burstsieve/measure/instrument.h"
#include "burstsieve/measure/streak.h"
#include "burstsieve/rank/motion_kind.h"
#include "measure/motion_cases.h"

using namespace burstsieve;
using rank::MotionKind;
using textures::Texture;

namespace {

bool thorough() {
  return std::getenv("BURSTSIEVE_HEAVY") != nullptr;
}

double off_degrees(double a, double b) {
  return std::abs(std::remainder(a - b, 180));
}

measure::Streak streak_in(const cv::Mat& luma, const Region& box = {.08, .08, .84, .84},
                          int orientation = 1) {
  const cv::Mat activity = image::activity_map(luma);
  const auto cells = measure::subject_cells(activity, orientation, box, {});
  return measure::find_streak(measure::spectrum_of(luma, activity, cells, 3),
                              measure::gather_detail(luma, activity, orientation, box), orientation);
}

bool within(double length, double degrees, double true_length, double true_degrees) {
  return true_length > 0 && std::abs(length - true_length) <= std::max(1.5, .1 * true_length) &&
         off_degrees(degrees, true_degrees) <= 4;
}

struct Tally {
  int right = 0, of = 0, wrong_sure = 0;
};

// Right: the length within 1.5 px or 10 %, the direction within 4 degrees.
std::map<std::string, Tally> ladder(const std::vector<Texture>& all, int ways) {
  std::map<std::string, Tally> out;
  unsigned seed = 1;
  for (const Texture& t : all)
    for (int way = 0; way < ways; ++way)
      for (const double length : {3.0, 4.0, 5.0, 7.0, 10.0, 14.0, 20.0, 28.0, 40.0})
        for (const double noise : {.003, .02}) {
          const double degrees = std::fmod(++seed * 37.3, 180.0) - 90;
          const auto s = streak_in(motion_cases::shot(
              textures::moved(textures::turned(t.linear, static_cast<unsigned>(way)), length, degrees), noise,
              seed));
          const bool right = within(s.length, s.degrees, length, degrees);
          const bool sure = s.length > 0 && s.confidence >= .6;
          for (const std::string& key : {t.kind, t.kind + (noise > .01 ? " 2 % noise" : " clean"),
                                         t.kind + (length < 6    ? " 3-5 px"
                                                   : length < 15 ? " 7-14 px"
                                                                 : " 20-40 px")}) {
            Tally& tally = out[key];
            tally.right += right;
            tally.of += 1;
            tally.wrong_sure += sure && !right && std::abs(s.length - length) > std::max(2.5, .2 * length);
          }
        }
  return out;
}

FrameFacts measured(const cv::Mat& luma, const Region& box) {
  decode::Planes planes;
  planes.luma = luma;
  planes.source = "jpeg";
  const cv::Mat activity = image::activity_map(luma);
  const Capture capture;
  measure::PixelInput input{&planes, &activity, &capture, {box, std::nullopt, .9, "test"}, {}, {}};
  // As the engine does, where the camera focused: in the middle of the animal.
  const Region focus{box.x + .2 * box.w, box.y + .2 * box.h, .6 * box.w, .6 * box.h};
  input.detail = measure::gather_detail(luma, activity, 1, focus);
  FrameFacts facts;
  facts.decoded = true;
  facts.measures = measure::measure_pixels(input);
  return facts;
}

// What was claimed with a confidence, and whether it was so.
struct Claim {
  double confidence = 0;
  bool right = false;
};

void claim(const FrameFacts& facts, const std::string& where, double true_length, double true_degrees,
           std::map<std::string, std::vector<Claim>>& out) {
  const Measure* px = find(facts.measures, where + "motion_px");
  if (!px) return;
  const Measure* degrees = find(facts.measures, where + "motion_deg");
  if (px->value > 0)
    out[where + "streak"].push_back(
        {px->confidence, within(px->value, degrees ? degrees->value : 0, true_length, true_degrees)});
  else
    out[where + "none"].push_back({px->confidence, !(true_length > 0)});
}

struct Outcome {
  std::map<MotionKind, std::map<MotionKind, int>> confusion;
  std::map<std::string, std::map<MotionKind, int>> misses;  // by texture of the subject, true kind
  std::map<std::string, std::vector<Claim>> claims;
  int count = 0, right = 0, blamed_pans = 0, blamed_sharp = 0;
};

Outcome outcome_of(const motion_cases::Set& set, int count) {
  cv::setNumThreads(1);
  Outcome out;
  out.count = count;
  for (int i = 0; i < count; ++i) {
    const motion_cases::Case c = set.at(i);
    const FrameFacts facts = measured(c.luma, c.box);
    const auto found = rank::motion_kind(facts);
    ++out.confusion[c.kind][found.kind];
    out.right += found.kind == c.kind;
    if (found.kind != c.kind) ++out.misses[c.texture][c.kind];
    const Measure* m = find(facts.measures, "motion_px");
    const bool blamed = m && m->value > 6 && m->confidence >= .6;
    out.blamed_pans += c.kind == MotionKind::pan && blamed;
    out.blamed_sharp += c.kind == MotionKind::sharp && blamed;
    claim(facts, "", c.length, c.degrees, out.claims);
    claim(facts, "background_", c.background_length, c.background_degrees, out.claims);
  }
  return out;
}

std::string text_of(const Outcome& o) {
  std::string out;
  for (const auto& [truth, row] : o.confusion) {
    out += "\n  " + std::string(rank::name_of(truth)) + ":";
    for (const auto& [seen, n] : row)
      out += "  " + std::string(rank::name_of(seen)) + " " + std::to_string(n);
  }
  for (const auto& [texture, row] : o.misses) {
    out += "\n  missed on " + texture + ":";
    for (const auto& [truth, n] : row)
      out += "  " + std::string(rank::name_of(truth)) + " " + std::to_string(n);
  }
  return out;
}

struct Bin {
  int count = 0, right = 0;
  double sum = 0;
  double share() const { return count > 0 ? static_cast<double>(right) / count : 0; }
  double mean() const { return count > 0 ? sum / count : 0; }
};

std::array<Bin, 10> bins_of(const std::vector<Claim>& claims) {
  std::array<Bin, 10> out;
  for (const Claim& c : claims) {
    Bin& bin = out[static_cast<std::size_t>(std::clamp(c.confidence * 10, 0.0, 9.0))];
    ++bin.count;
    bin.right += c.right;
    bin.sum += c.confidence;
  }
  return out;
}

}  // namespace

TEST_SUITE("measure/motion") {
  // The planted streak is the golden value; it is applied as the sinc of its Fourier transform.
  TEST_CASE("length within 1.5 px or 10 %, direction within 4 degrees, 3 to 40 px, noise up to 2 %") {
    cv::setNumThreads(1);
    auto all = textures::synthetic(448, thorough() ? 4 : 1);
    if (thorough())
      for (auto& t : textures::photographs(448)) all.push_back(std::move(t));
    const auto results = ladder(all, thorough() ? 4 : 1);
    std::string table;
    for (const auto& [kind, tally] : results)
      table += "\n  " + kind + ": " + std::to_string(tally.right) + " of " + std::to_string(tally.of) +
               ", surely wrong " + std::to_string(tally.wrong_sure);
    MESSAGE(table);
    for (const auto& [kind, tally] : results) {
      CAPTURE(kind);
      if (kind == "leaves") CHECK(tally.right >= .92 * tally.of);
      if (kind == "1/f") CHECK(tally.right >= .86 * tally.of);
      if (kind == "feathers") CHECK(tally.right >= .48 * tally.of);
      CHECK(tally.wrong_sure <= .06 * tally.of);
    }
  }

  TEST_CASE("a sharp texture has no sure streak of 3 px or more") {
    auto all = textures::synthetic(448, 2);
    if (thorough())
      for (auto& t : textures::photographs(448)) all.push_back(std::move(t));
    int false_alarms = 0, count = 0;
    for (const Texture& t : all)
      for (const double noise : {.003, .02}) {
        const auto s = streak_in(motion_cases::shot(t.linear, noise, 5));
        ++count;
        false_alarms += s.length >= 3 && s.confidence >= .6;
      }
    MESSAGE(false_alarms << " false alarms on " << count << " sharp textures");
    CHECK(false_alarms <= count / 30);
  }

  TEST_CASE("the direction is that of the upright frame, whatever way the sensor lay") {
    const cv::Mat upright = motion_cases::shot(textures::moved(targets::leaves(320, .7, 3), 12, 25), .003, 3);
    const std::array<int, 3> stored_as{cv::ROTATE_180, cv::ROTATE_90_COUNTERCLOCKWISE,
                                       cv::ROTATE_90_CLOCKWISE};
    for (const int orientation : {1, 2, 3, 4, 5, 6, 7, 8}) {
      cv::Mat stored = upright.clone();
      // The inverse of what the orientation asks for (Exif 2.32, tag 0x0112).
      if (orientation == 2) cv::flip(upright, stored, 1);
      if (orientation == 4) cv::flip(upright, stored, 0);
      if (orientation == 5) stored = upright.t();
      if (orientation == 7) {
        cv::rotate(upright, stored, cv::ROTATE_180);
        stored = cv::Mat(stored.t());
      }
      if (orientation == 3) cv::rotate(upright, stored, stored_as[0]);
      if (orientation == 6) cv::rotate(upright, stored, stored_as[1]);
      if (orientation == 8) cv::rotate(upright, stored, stored_as[2]);
      const auto s = streak_in(stored, {.1, .1, .8, .8}, orientation);
      CAPTURE(orientation);
      CHECK(std::abs(s.length - 12) < 1.5);
      CHECK(off_degrees(s.degrees, 25) < 4);
    }
  }

  TEST_CASE("nothing to see: no length, no confidence") {
    for (const cv::Mat& luma :
         {cv::Mat(400, 400, CV_8U, cv::Scalar(128)), cv::Mat(20, 900, CV_8U, cv::Scalar(9)),
          motion_cases::shot(cv::Mat(400, 400, CV_32F, cv::Scalar(.3)), .02, 4)}) {
      const auto s = streak_in(luma);
      CAPTURE(luma.rows);
      CAPTURE(s.reach);
      CHECK(s.length == 0);
      CHECK(s.confidence < .15);
    }
  }

  TEST_CASE("what moved is told: sharp, subject, camera, both, panning shot, soft") {
    const auto set = motion_cases::held_out(thorough() ? 4 : 1, thorough());
    const Outcome o = outcome_of(set, thorough() ? 1000 : 72);
    MESSAGE(o.right << " of " << o.count << " right; true kind: seen as" << text_of(o));
    MESSAGE("sharp subjects blamed for a streak: " << o.blamed_sharp
                                                   << ", on panning shots: " << o.blamed_pans);
    CHECK(o.right >= .9 * o.count);
    CHECK(o.blamed_pans + o.blamed_sharp <= o.count / 200);
  }

  // Of what is said with confidence c, a share of about c is so: streaks within the tolerance of the first
  // case, "none" where there is none of 3 px or more.
  TEST_CASE("confidence is the share that is right") {
    auto set = motion_cases::held_out(thorough() ? 4 : 1, thorough());
    set.shortest = 3;
    set.seed += 7;
    const Outcome o = outcome_of(set, thorough() ? 1000 : 36);
    std::string table;
    for (const auto& [what, claims] : o.claims) {
      double squares = 0;
      for (const Claim& c : claims) squares += std::pow(c.confidence - c.right, 2);
      table += "\n  " + what + ", " + std::to_string(claims.size()) + ", Brier " +
               std::to_string(squares / static_cast<double>(claims.size()));
      for (const Bin& bin : bins_of(claims)) {
        if (bin.count == 0) continue;
        table += "\n    said " + std::to_string(bin.mean()) + ", was " + std::to_string(bin.share()) +
                 " of " + std::to_string(bin.count);
        CAPTURE(what);
        CAPTURE(bin.mean());
        CAPTURE(bin.share());
        // Well filled; .05 and what chance does to that many.
        const double chance = 2 * std::sqrt(std::max(.01, bin.mean() * (1 - bin.mean())) / bin.count);
        if (bin.count >= 60) CHECK(std::abs(bin.mean() - bin.share()) <= .05 + chance);
      }
      CAPTURE(what);
      CHECK(squares <= .15 * static_cast<double>(claims.size()));
    }
    MESSAGE(table);
  }
}
