// A page that shows what the finders made of every picture.
#pragma once
#include <string>

#include "check.h"

namespace burstsieve::subject_check {

inline constexpr int kReportSide = 700;  // px, longest side of a picture on the page

// Makes `folder` where it is not there, with index.html and the pictures that it shows (JPEG); names in them
// that are there already are written over. check: made with CheckOptions::view. Error: io.
Status write_report(const Check& check, const std::string& folder);

}  // namespace burstsieve::subject_check
