// Parts that the tables of burstsieve-compare share, and the tables that stand in files of their own.
#pragma once
#include <opencv2/core.hpp>
#include <string>
#include <vector>

#include "burstsieve/measure/detail.h"
#include "scenes.h"

namespace burstsieve::compare {

// Our measure. known: see measure::gather_detail.
measure::EdgeBlur ours(const cv::Mat& luma, const Region& region,
                       const measure::NoiseFloors* known = nullptr);

std::vector<double> geometric(double first, double last, int steps);

// The noise of each frame of a set, around `noise`: all alike, or within x.6-1.6, drawn from the seed.
std::vector<double> frame_noises(double noise, bool varies, std::size_t frames, unsigned seed);

struct Spread {
  double low = 1e9, high = -1e9, sum = 0;
  int count = 0;
  void add(double v);
  std::string text() const;  // mean (least-most)
};

// Seeds from `first` on. Printed to standard output as Markdown.
void print_degraded(unsigned first, int seeds, const std::vector<Scene>& photographs);
void print_degraded_order(unsigned first, int seeds, const std::vector<Scene>& photographs);
void print_oracle(unsigned first, int seeds, const std::vector<Scene>& photographs);
void print_reliability(unsigned first, int seeds);

}  // namespace burstsieve::compare
