// What the files of the debrief share.
#pragma once
#include <optional>
#include <string>
#include <vector>

#include "burstsieve/report/debrief.h"

namespace burstsieve::report {

using CostList = std::vector<const FrameCost*>;

std::optional<double> value_of(const FrameCost& frame, Setting setting);
// The frames of each burst in which the cause could be looked for, and those lost to it.
GroupParts parts_of(const CostList& frames, Cost cost);
// Of each group, with the likeness of bursts told from all groups together.
std::vector<Shares> shares_of(const std::vector<CostList>& groups);

// "1/1600 s", "560 mm", "f/5.6", "ISO 800", "10:30".
std::string setting_text(Setting setting, double value);
// "43 %"; "less than 1 %" and "more than 99 %" where rounding would hide a frame.
std::string percent_text(double share);
// "43 % (26 of 60 frames; 95 % interval 31 to 56 %)"
std::string share_text(const Share& share);
// "1/3", "2/3", "1 1/3": of an exposure that is a whole number of thirds.
std::string thirds_text(double ev);
// "2/3 of a stop", "1 1/3 stops".
std::string stops_text(double stops);

std::vector<Advice> advice_from(const CostList& measured, const Debrief& so_far);

// Advice on exposure; `when`: which frames they are, " after 10:00" or empty.
std::optional<Advice> exposure_advice(const CostList& frames, const std::string& when);

// What is shown beside each setting, at most three.
std::vector<Cost> shown_with(Setting setting);
// "412 frames in 38 bursts, 2026-04-12 13:20 to 14:40".
std::string headline(const Debrief& debrief);

inline constexpr const char* kNoAdvice =
    "None: no two settings differ beyond doubt (that takes 20 frames of 3 bursts on either side, and 95 % "
    "intervals "
    "that stand apart).";

// What each setting can do something about, gravest first.
std::vector<Cost> causes_by(Setting setting);

}  // namespace burstsieve::report
