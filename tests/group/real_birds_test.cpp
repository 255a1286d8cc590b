// Near-duplicates made from photographs of real birds (package tuxpaint-stamps-default): the same bird a
// little later stays one pose, another bird is another. Needs tools/test-data.sh; says nothing without.
#include <doctest/doctest.h>

#include <algorithm>
#include <bit>
#include <filesystem>
#include <opencv2/imgcodecs.hpp>
#include <opencv2/imgproc.hpp>
#include <string>
#include <vector>

#include "base/test_data.h"
#include "burstsieve/group/pose.h"

using namespace burstsieve;

namespace {

struct Later {
  double size = 1;  // of the bird
  cv::Point shift;  // px
  double gain = 1;  // exposure
  double blur = 0, noise = 0;
  double cut = 0;         // how much tighter the box is, of its side
  double turned_deg = 0;  // the bird rolls a little
};

// The bird at 300 px on a soft gradient that slides with the shift, as a frame of a burst.
PoseDescriptor seen(const cv::Mat& cut_out, const Later& l, int seed) {
  const double scale = l.size * 300.0 / std::max(cut_out.cols, cut_out.rows);
  cv::Mat frame(480, 720, CV_32FC3);
  for (int y = 0; y < frame.rows; ++y)
    for (int x = 0; x < frame.cols; ++x)
      frame.at<cv::Vec3f>(y, x) =
          cv::Vec3f::all(static_cast<float>(90 + .06 * (x + 2 * l.shift.x) + .05 * y));
  cv::Mat move = cv::getRotationMatrix2D(cv::Point2f(cv::Point2d(cut_out.cols / 2.0, cut_out.rows / 2.0)),
                                         l.turned_deg, scale);
  move.at<double>(0, 2) += 360 + l.shift.x - cut_out.cols / 2.0;
  move.at<double>(1, 2) += 240 + l.shift.y - cut_out.rows / 2.0;
  cv::Mat placed;
  cv::warpAffine(cut_out, placed, move, frame.size(), cv::INTER_AREA);
  CellMask mask;
  mask.cols = 72, mask.rows = 48;
  cv::Mat cover(frame.size(), CV_8U), cells;
  for (int y = 0; y < frame.rows; ++y)
    for (int x = 0; x < frame.cols; ++x) {
      const cv::Vec4b v = placed.at<cv::Vec4b>(y, x);
      const float a = static_cast<float>(v[3]) / 255;
      for (int c = 0; c < 3; ++c)
        frame.at<cv::Vec3f>(y, x)[c] += a * (static_cast<float>(v[c]) - frame.at<cv::Vec3f>(y, x)[c]);
      cover.at<std::uint8_t>(y, x) = v[3];
    }
  const cv::Rect body = cv::boundingRect(cover > 127);
  cv::resize(cover, cells, {mask.cols, mask.rows}, 0, 0, cv::INTER_AREA);
  for (const std::uint8_t v : cv::Mat1b(cells)) mask.cells.push_back(v > 100);
  frame *= l.gain;
  if (l.blur > 0) cv::GaussianBlur(frame, frame, {}, l.blur);
  if (l.noise > 0) {
    cv::Mat noise(frame.size(), CV_32FC3);
    cv::RNG(static_cast<std::uint64_t>(seed)).fill(noise, cv::RNG::NORMAL, 0, l.noise);
    frame += noise;
  }
  cv::Mat bgr;
  frame.convertTo(bgr, CV_8U);
  decode::Planes planes;
  cv::cvtColor(bgr, planes.luma, cv::COLOR_BGR2GRAY);
  cv::Mat eighth;
  cv::resize(bgr, eighth, {}, .125, .125, cv::INTER_AREA);
  const double w = body.width * (1 - l.cut), h = body.height * (1 - l.cut / 2);
  const Region box{body.x / 720.0, body.y / 480.0, w / 720, h / 480};
  return group::describe_pose(planes, eighth, box, mask);
}

std::vector<cv::Mat> birds() {
  const std::string folder =
      test::data_cache() + "/tuxpaint-stamps-default/usr/share/tuxpaint/stamps/animals/birds";
  std::vector<std::string> names;
  std::vector<cv::Mat> out;
  if (!std::filesystem::exists(folder)) return out;
  for (const auto& e : std::filesystem::directory_iterator(folder))
    if (e.path().extension() == ".png") names.push_back(e.path().string());
  std::sort(names.begin(), names.end());
  for (const std::string& name : names) {
    const cv::Mat picture = cv::imread(name, cv::IMREAD_UNCHANGED);
    if (picture.channels() == 4 && std::min(picture.cols, picture.rows) >= 60) out.push_back(picture);
  }
  return out;
}

}  // namespace

TEST_SUITE("group/real_birds") {
  TEST_CASE("the same bird a moment later is one pose, another bird is another; better than the hash alone") {
    const auto all = birds();
    if (all.empty()) {
      MESSAGE("not fetched, nothing checked (tools/test-data.sh)");
      return;
    }
    REQUIRE(all.size() >= 25);
    const std::vector<Later> moments{{1.08, {14, -9}},      {1, {-20, 5}, .7},
                                     {.93, {}, 1, 2.5},     {1, {6, 6}, 1.2, 0, 6},
                                     {1, {}, 1, 0, 0, .15}, {1.04, {9, 3}, .9, 1, 3, .08, 4}};
    std::vector<PoseDescriptor> first;
    int same = 0, ours = 0, hash = 0;
    for (const cv::Mat& bird : all) {
      first.push_back(seen(bird, {}, 1));
      for (std::size_t i = 0; i < moments.size(); ++i) {
        const PoseDescriptor later = seen(bird, moments[i], static_cast<int>(i) + 2);
        ++same;
        ours += group::likeness(first.back(), later) >= group::PoseOptions{}.likeness;
        hash += std::popcount(first.back().hash ^ later.hash) <= 10;  // Kouda 2017
      }
    }
    int different = 0, ours_wrong = 0, hash_wrong = 0;
    for (std::size_t i = 0; i < first.size(); ++i)
      for (std::size_t k = i + 1; k < first.size(); ++k) {
        ++different;
        ours_wrong += group::likeness(first[i], first[k]) >= group::PoseOptions{}.likeness;
        hash_wrong += std::popcount(first[i].hash ^ first[k].hash) <= 10;
      }
    MESSAGE("same bird later: ours " << ours << ", hash " << hash << " of " << same
                                     << "; other bird taken for it: ours " << ours_wrong << ", hash "
                                     << hash_wrong << " of " << different);
    CHECK(ours >= .95 * same);
    CHECK(ours > hash);
    CHECK(ours_wrong <= .02 * different);
  }
}
