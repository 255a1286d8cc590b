// How long the engine has been silent while somebody listened.
#pragma once
#include <algorithm>
#include <chrono>

namespace burstsieve::pipeline {

class Silence {
 public:
  void broken() { listened_ = {}; }
  // After each wait for it. A wait lasts some tens of milliseconds: one that took longer was not a wait, this
  // process did not run either (Ctrl-Z, a frozen session or machine), and the engine is not to be blamed.
  void listened(std::chrono::nanoseconds waited) {
    listened_ += std::min(waited, std::chrono::nanoseconds(kLongestWait));
  }
  double seconds() const { return std::chrono::duration<double>(listened_).count(); }

  static constexpr std::chrono::milliseconds kLongestWait{500};

 private:
  std::chrono::nanoseconds listened_{0};
};

}  // namespace burstsieve::pipeline
