// What every fuzz target shares: how a broken promise stops it, and how it says what came of an input.
#pragma once
#include <cstddef>
#include <cstdint>
#include <string>

#include "burstsieve/base/bytes.h"
#include "burstsieve/base/result.h"

// The one function that libFuzzer, and our own replay, call. Returns 0.
extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size);

namespace burstsieve::fuzz {

// Prints `promise` and aborts when it does not hold: a find for the fuzzer, a failure of the replay.
void require(bool holds, const char* promise);

// What came of the present input, in a few words: "accepted", "refused corrupt". The replay holds it against
// the expectation of a hostile case; the fuzzer does not look.
void came_out(std::string outcome);
void refused(const Error& error);
// The last words since the previous call; empty when the target said nothing.
std::string take_outcome();

// True when `text` is one line of valid UTF-8 without control characters, as everything shown must be.
bool clean_line(const std::string& text);

}  // namespace burstsieve::fuzz
