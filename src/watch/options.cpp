#include "burstsieve/watch/options.h"

#include <fmt/format.h>

namespace burstsieve::watch {
namespace {

Status in_range(const char* what, double value, double low, double high) {
  if (value >= low && value <= high) return Done{};
  return Error{Cause::unsupported, {}, fmt::format("{} must be {} to {} seconds", what, low, high)};
}

}  // namespace

Status WatchOptions::check() const {
  if (auto s = in_range("settle", settle_s, .05, 3600); !s) return s;
  if (auto s = in_range("quiet", quiet_s, 0, 86400); !s) return s;
  if (auto s = in_range("poll", poll_s, .05, 3600); !s) return s;
  return in_range("patience", patience_s, 0, 86400);
}

}  // namespace burstsieve::watch
