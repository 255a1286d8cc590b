// Promise: whatever a file of exported preferences holds, it is refused with a reason, or its weights are
// within their bounds and come out again as they went in.
#include <string>
#include <string_view>

#include "burstsieve/report/preferences.h"
#include "support/target.h"

using namespace burstsieve;

int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const std::string_view text(reinterpret_cast<const char*>(data), size);
  const auto read = report::preferences_from_json(text, "taste.json");
  if (!read) {
    fuzz::require(!read.error().text.empty(), "a refusal has a reason");
    fuzz::came_out(std::string("refused ") + name_of(read.error().cause));
    return 0;
  }
  for (std::size_t i = 0; i < rank::kFeatures; ++i) {
    const auto& spec = rank::feature_specs()[i];
    const double w = read->learnt.base[i];
    fuzz::require(w >= spec.least && w <= spec.most, "weights stay within their bounds");
  }
  const auto again = report::preferences_from_json(report::preferences_json(*read), "taste.json");
  fuzz::require(again && again->learnt.base == read->learnt.base, "what was read is written as it was");
  fuzz::came_out("read");
  return 0;
}
