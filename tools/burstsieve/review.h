// The review page.
#pragma once
#include "settings.h"

namespace burstsieve::tool {

struct ReviewSettings {
  int port = 0;
  bool no_browser = false;
};

int run_review(Settings& settings, const ReviewSettings& review);

}  // namespace burstsieve::tool
