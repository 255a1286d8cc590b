#include "target.h"

#include <cstdio>
#include <cstdlib>
#include <utility>

#include "burstsieve/base/text.h"

namespace burstsieve::fuzz {
namespace {

std::string outcome;

}  // namespace

void require(bool holds, const char* promise) {
  if (holds) return;
  std::fprintf(stderr, "broken promise: %s\n", promise);
  std::abort();
}

void came_out(std::string words) {
  outcome = std::move(words);
}

void refused(const Error& error) {
  require(clean_line(error.line()) && !error.text.empty(), "an error says why, in one clean line");
  came_out(std::string("refused ") + name_of(error.cause));
}

std::string take_outcome() {
  return std::exchange(outcome, {});
}

bool clean_line(const std::string& text) {
  return one_line(text) == text;
}

}  // namespace burstsieve::fuzz
