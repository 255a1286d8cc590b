#include "burstsieve/group/pose.h"

#include <doctest/doctest.h>

#include <bit>
#include <opencv2/img_hash.hpp>
#include <opencv2/imgproc.hpp>

using namespace burstsieve;

namespace {

// A bird of polygons on a soft backdrop; wing: +1 up, -1 down.
cv::Mat bird(double wing, cv::Point shift = {}, double gain = 1, double blur = 0, unsigned noise = 0) {
  cv::Mat out(400, 600, CV_8U, cv::Scalar(70));
  const cv::Point c(300 + shift.x, 200 + shift.y);
  cv::ellipse(out, c, {110, 34}, -8, 0, 360, cv::Scalar(200), cv::FILLED, cv::LINE_AA);
  cv::circle(out, c + cv::Point(112, -24), 26, cv::Scalar(215), cv::FILLED, cv::LINE_AA);
  cv::circle(out, c + cv::Point(120, -28), 5, cv::Scalar(15), cv::FILLED, cv::LINE_AA);
  const int tip = static_cast<int>(-150 * wing);
  const std::vector<cv::Point> left{c + cv::Point(40, 0), c + cv::Point(-40, 0), c + cv::Point(-70, tip),
                                    c + cv::Point(-10, tip + (wing > 0 ? 10 : -10))};
  cv::fillConvexPoly(out, left, cv::Scalar(170), cv::LINE_AA);
  out.convertTo(out, CV_8U, gain);
  if (blur > 0) cv::GaussianBlur(out, out, {}, blur);
  if (noise) {
    cv::Mat n(out.size(), CV_16S), wide;
    cv::RNG rng(noise);
    rng.fill(n, cv::RNG::NORMAL, 0, 5);
    out.convertTo(wide, CV_16S);
    wide += n;
    wide.convertTo(out, CV_8U);
  }
  return out;
}

PoseDescriptor describe(const cv::Mat& luma, Region box = {.2, .08, .6, .84}) {
  decode::Planes planes;
  planes.luma = luma;
  cv::Mat eighth;
  cv::resize(luma, eighth, {}, .125, .125, cv::INTER_AREA);
  cv::cvtColor(eighth, eighth, cv::COLOR_GRAY2BGR);
  return group::describe_pose(planes, eighth, box, {});
}

int bits(std::uint64_t a, std::uint64_t b) {
  return std::popcount(a ^ b);
}

}  // namespace

TEST_SUITE("group/pose") {
  // Kouda 2017: similar <= 10 bits, different >= 20.
  TEST_CASE("the hash of one picture stands exposure, blur and noise, and tells a mirrored one") {
    const auto base = group::dct_hash(bird(1));
    CHECK(bits(base, group::dct_hash(bird(1, {}, .7))) <= 10);
    CHECK(bits(base, group::dct_hash(bird(1, {}, 1, 2))) <= 10);
    CHECK(bits(base, group::dct_hash(bird(1, {}, 1, 0, 4))) <= 10);
    cv::Mat mirrored;
    cv::flip(bird(1), mirrored, 1);
    CHECK(bits(base, group::dct_hash(mirrored)) >= 20);
  }

  // Outside reference: OpenCV contrib img_hash PHash, another implementation of the same idea.
  TEST_CASE("agrees with an independent DCT hash on what is similar") {
    const auto reference = cv::img_hash::PHash::create();
    const auto distance = [&](const cv::Mat& a, const cv::Mat& b) {
      cv::Mat x, y;
      reference->compute(a, x);
      reference->compute(b, y);
      return reference->compare(x, y);
    };
    const cv::Mat base = bird(1);
    cv::Mat mirrored;
    cv::flip(base, mirrored, 1);
    struct Case {
      cv::Mat other;
      bool similar;
    };
    for (const Case& c :
         {Case{bird(1, {}, .8), true}, Case{bird(1, {}, 1, 3), true}, Case{mirrored, false}}) {
      CHECK((distance(base, c.other) <= 10) == c.similar);
      CHECK((bits(group::dct_hash(base), group::dct_hash(c.other)) <= 10) == c.similar);
    }
  }

  TEST_CASE("one posture stays one group through shift, exposure, blur, noise and a wandering box") {
    const auto a = describe(bird(1));
    for (const auto& other : {describe(bird(1, {9, -6})), describe(bird(1, {}, .6)),
                              describe(bird(1, {}, 1, 2.5)), describe(bird(1, {}, 1, 0, 3)),
                              describe(bird(1), {.22, .10, .6, .84}), describe(bird(1), {.2, .08, .64, .88})})
      CHECK(group::pose_groups({&a, &other}, {}) == std::vector<int>{1, 1});
  }

  TEST_CASE("wings up and wings down are two groups, numbered as they appear") {
    const auto up = describe(bird(1)), up2 = describe(bird(1, {5, 3})), down = describe(bird(-1)),
               down2 = describe(bird(-1, {-4, 2}));
    CHECK(group::likeness(up, down) < group::PoseOptions{}.likeness - .05);
    const PoseDescriptor none;
    CHECK(group::pose_groups({&down, &up, &none, &down2, &up2}, {}) == std::vector<int>{1, 2, 0, 1, 2});
  }

  TEST_CASE("missing pictures are like nothing") {
    const PoseDescriptor none;
    CHECK(group::likeness(none, describe(bird(1))) == -1);
    CHECK(group::pose_groups({}, {}).empty());
    CHECK(group::describe_pose({}, {}, {0, 0, 1, 1}, {}).tile.empty());
  }
}
