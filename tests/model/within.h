// How near a worked value must be.
#pragma once
#include <cmath>

inline bool within(double value, double known, double relative) {
  return std::abs(value / known - 1) <= relative;
}
