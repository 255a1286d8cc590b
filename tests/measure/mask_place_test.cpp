// A mask that covers a part of the frame lies where it says, for every user of it.
#include <doctest/doctest.h>

#include <opencv2/imgproc.hpp>

#include "burstsieve/image/activity.h"
#include "burstsieve/measure/instrument.h"
#include "burstsieve/measure/spectrum.h"
#include "plumage.h"

using namespace burstsieve;

namespace {

CellMask blob(const Region& where) {
  CellMask out{17, 11, std::vector<std::uint8_t>(17 * 11), where, .9};
  for (std::size_t i = 0; i < out.cells.size(); ++i) out.cells[i] = i * i % 7 < 3;
  return out;
}

CellMask filled(const Region& where) {
  return {40, 40, std::vector<std::uint8_t>(1600, 1), where, .9};
}

// cut_by_edge of a mask over a picture full of detail.
double cut_of(const CellMask& mask) {
  cv::Mat luma(640, 960, CV_8U);
  cv::RNG(4).fill(luma, cv::RNG::UNIFORM, 60, 200);
  luma.colRange(480, 960).setTo(90);  // somewhere must be quiet
  decode::Planes planes;
  planes.luma = luma;
  planes.source = "jpeg";
  const cv::Mat activity = image::activity_map(luma);
  const Capture capture;
  measure::PixelInput input{&planes, &activity, &capture, {{0, .3, .4, .4}, std::nullopt, .9, "t"}, mask, {}};
  const auto all = measure::measure_pixels(input);
  const Measure* m = find(all, "cut_by_edge");
  return m ? m->value : -1;
}

}  // namespace

TEST_SUITE("measure/mask_place") {
  TEST_CASE("white plumage: the same pixels as the mask holds, in every orientation") {
    for (const Region where : {Region{0, 0, 1, 1}, {.31, .22, .43, .37}, {0, .5, .3, .5}})
      for (int orientation = 1; orientation <= 8; ++orientation) {
        const CellMask mask = blob(where);
        const int width = 212, height = 174;
        const measure::Outline outline(mask, orientation, width, height);
        int wrong = 0;
        for (int y = 0; y < height; ++y)
          for (int x = 0; x < width; ++x) {
            const Region up = upright({(x + .5) / width, (y + .5) / height, 0, 0}, orientation);
            wrong += outline.animal(x, y) != mask.holds(up.x, up.y);
          }
        CAPTURE(orientation);
        CHECK(wrong == 0);
      }
  }

  TEST_CASE("cut_by_edge: only the grid's sides on the frame's own edge are the frame's") {
    // A square with one of four sides on the edge.
    CHECK(cut_of(filled({0, .3, .4, .4})) == doctest::Approx(.25).epsilon(.05));
    CHECK(cut_of(filled({.05, .3, .4, .4})) == 0);
    CHECK(cut_of(filled({0, 0, .4, .4})) == doctest::Approx(.5).epsilon(.05));
  }

  TEST_CASE("streaks: cells weigh by how much of them is the animal's") {
    const cv::Mat activity(40, 60, CV_32F, cv::Scalar(10));
    const CellMask mask{2, 1, {1, 0}, {.25, .25, .5, .5}, .9};
    const cv::Mat cells = measure::subject_cells(activity, 1, {.25, .25, .5, .5}, mask);
    CHECK(cells.at<float>(20, 20) == 1);
    CHECK(cells.at<float>(20, 42) == 0);
    CHECK(cells.at<float>(20, 5) == 0);
    CHECK(cv::sum(cells)[0] == doctest::Approx(15 * 20).epsilon(.05));
  }
}
