// Boxes drawn on a picture so that they are told apart without colour: each by its line and its label.
#pragma once
#include <opencv2/core.hpp>
#include <string>
#include <vector>

#include "look.h"

namespace burstsieve::subject_check {

// How boxes of one kind are drawn. Colours: Okabe and Ito, "Color Universal Design", 2008.
struct Style {
  std::string label;    // beside the box
  std::string line;     // for the page: "dashed"
  cv::Scalar colour;    // B, G, R
  int on = 0, off = 0;  // pixels of a dash and of the gap behind it; 0: unbroken
  int thick = 2;        // pixels
};
Style style_of_truth();
Style style_of(const std::string& source);   // of Answer::source, or kFirst's
std::string css_colour(const Style& style);  // "#e69f00"

// A copy of the view with the animals of the truth, what each finder said, and the first subject.
cv::Mat overlay(const Looked& looked, const std::vector<Region>& truth);

}  // namespace burstsieve::subject_check
