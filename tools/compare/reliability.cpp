// Whether the confidence of blur_sigma_px is what it says it is: the share of answers within 15 %.
#include <fmt/format.h>

#include <array>
#include <cmath>
#include <cstdlib>

#include "cases.h"
#include "tables.h"

namespace burstsieve::compare {

void print_reliability(unsigned first, int seeds) {
  struct Bin {
    int cases = 0, ten = 0, fifteen = 0;
    double confidence = 0;
  };
  std::array<Bin, 10> bins{};
  const char* raw = std::getenv("BURSTSIEVE_COMPARE_RAW");  // one line per case on standard error, for tuning
  for (std::uint64_t number = first; number < first + static_cast<std::uint64_t>(seeds); ++number) {
    const Case c = blur_case(number);
    const auto blur = ours(c.luma, c.region);
    const double off = std::abs(blur.sigma / c.sigma - 1);
    if (raw)
      fmt::print(stderr, "{} {:.3f} {:.4f} {:.3f} {:.3f} {}\n", number, c.sigma, c.noise, blur.sigma,
                 blur.confidence, c.what);
    Bin& b = bins[std::min<std::size_t>(9, static_cast<std::size_t>(blur.confidence * 10))];
    ++b.cases, b.ten += off <= .10, b.fifteen += off <= .15, b.confidence += blur.confidence;
  }
  fmt::print("\n### Confidence against the share of right answers, cases {} to {}\n\n", first,
             first + static_cast<unsigned>(seeds) - 1);
  fmt::print("| confidence | cases | mean confidence | within 10 % | within 15 % |\n|---|---|---|---|---|\n");
  for (std::size_t i = 0; i < bins.size(); ++i) {
    const Bin& b = bins[i];
    if (b.cases == 0) continue;
    const double n = b.cases;
    fmt::print("| {:.1f}-{:.1f} | {} | {:.2f} | {:.2f} | {:.2f} |\n", .1 * static_cast<double>(i),
               .1 * static_cast<double>(i + 1), b.cases, b.confidence / n, b.ten / n, b.fifteen / n);
  }
}

}  // namespace burstsieve::compare
