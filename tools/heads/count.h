// How often heads are found, and hidden ones known.
#pragma once
#include <functional>
#include <string>
#include <vector>

#include "head_search.h"
#include "sample.h"

namespace burstsieve::heads {

struct Tally {
  int frames = 0;                      // with a visible head
  int right = 0, wrong = 0, lost = 0;  // said visible within half a head, or elsewhere; said hidden
  int first = 0;                       // the first place is the head, trusted or not
  int hidden = 0, hidden_known = 0, hidden_seen = 0;  // hidden heads; said hidden; said visible
};

struct Judged {
  const Sample* sample;
  subject::HeadFinding alone;
  subject::HeadJudgement in_burst;
  bool right = false;  // the first place, to half a head
};
std::vector<Judged> judge(const std::vector<Sample>& samples, bool true_mask);

// One for each key; frames ruined by blur and heads outside the frame are left out by the caller's key ("").
std::vector<std::pair<std::string, Tally>> tally(const std::vector<Judged>& judged, bool in_burst,
                                                 const std::function<std::string(const Sample&)>& key);

}  // namespace burstsieve::heads
