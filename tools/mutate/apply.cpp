// Does the damage, and puts it into words.
#include <fmt/format.h>

#include <algorithm>

#include "dice.h"
#include "mutate.h"

namespace burstsieve::mutate {
namespace {

std::ptrdiff_t offset(std::uint64_t v) {
  return static_cast<std::ptrdiff_t>(v);
}

ByteBuffer noise(std::uint64_t count, std::uint64_t seed) {
  Dice dice(seed);
  ByteBuffer out(static_cast<std::size_t>(count));
  for (std::uint8_t& b : out) b = static_cast<std::uint8_t>(dice.next() >> 56);
  return out;
}

void flip(ByteBuffer& b, const Step& s, std::uint64_t at) {
  Dice dice(s.seed);
  const std::uint64_t window = std::min<std::uint64_t>(std::max<std::uint64_t>(s.other, 1), b.size() - at);
  for (std::uint64_t i = 0; i < s.count; ++i) {
    const std::uint64_t where = at + dice.below(window);
    b[static_cast<std::size_t>(where)] ^= static_cast<std::uint8_t>(1u << dice.below(8));
  }
}

void swap(ByteBuffer& b, const Step& s, std::uint64_t at) {
  const std::uint64_t other = std::min<std::uint64_t>(s.other, b.size() - 1);
  const std::uint64_t low = std::min(at, other);
  const std::uint64_t high = std::max(at, other);
  const std::uint64_t count = std::min({s.count, high - low, b.size() - high});
  std::swap_ranges(b.begin() + offset(low), b.begin() + offset(low + count), b.begin() + offset(high));
}

void put_number(ByteBuffer& b, const Step& s, std::uint64_t at) {
  for (int i = 0; i < s.width; ++i) {
    const auto where = static_cast<std::size_t>(at) + static_cast<std::size_t>(i);
    const int place = s.order == ByteOrder::big ? s.width - 1 - i : i;
    if (where < b.size()) b[where] = static_cast<std::uint8_t>(s.value >> (8 * place));
  }
}

void do_step(ByteBuffer& b, const Step& s, Bytes donor) {
  if (b.empty()) return;
  const std::uint64_t at = std::min<std::uint64_t>(s.at, b.size() - 1);
  const std::uint64_t count = std::min<std::uint64_t>(s.count, b.size() - at);
  const auto from = b.begin() + offset(at);
  switch (s.kind) {
    case Kind::truncate:
      b.resize(static_cast<std::size_t>(at));
      break;
    case Kind::flip_bits:
      flip(b, s, at);
      break;
    case Kind::zero_run:
      std::fill(from, from + offset(count), std::uint8_t{0});
      break;
    case Kind::random_run: {
      const ByteBuffer wild = noise(count, s.seed);
      std::copy(wild.begin(), wild.end(), from);
      break;
    }
    case Kind::swap_blocks:
      swap(b, s, at);
      break;
    case Kind::extreme_number:
      put_number(b, s, at);
      break;
    case Kind::insert: {
      const ByteBuffer wild = noise(s.count, s.seed);
      b.insert(from, wild.begin(), wild.end());
      break;
    }
    case Kind::remove:
      b.erase(from, from + offset(count));
      break;
    case Kind::splice: {
      b.resize(static_cast<std::size_t>(at));
      const auto rest =
          donor.subspan(static_cast<std::size_t>(std::min<std::uint64_t>(s.other, donor.size())));
      b.insert(b.end(), rest.begin(), rest.end());
      break;
    }
  }
}

std::string words(const Step& s) {
  switch (s.kind) {
    case Kind::truncate:
      return fmt::format("ends at {}", s.at);
    case Kind::flip_bits:
      return fmt::format("flips: {} bits in {} bytes from {}", s.count, s.other, s.at);
    case Kind::zero_run:
      return fmt::format("zeroes: {} bytes from {}", s.count, s.at);
    case Kind::random_run:
      return fmt::format("noise: {} bytes from {}", s.count, s.at);
    case Kind::swap_blocks:
      return fmt::format("swap: {} bytes at {} and {}", s.count, s.at, s.other);
    case Kind::extreme_number:
      return fmt::format("number: {} bytes at {} become {}", s.width, s.at, s.value);
    case Kind::insert:
      return fmt::format("insertion: {} bytes before {}", s.count, s.at);
    case Kind::remove:
      return fmt::format("removal: {} bytes from {}", s.count, s.at);
    case Kind::splice:
      return fmt::format("splice: from {} on another file from {} on", s.at, s.other);
  }
  return {};
}

}  // namespace

ByteBuffer apply(const Mutation& mutation, Bytes photograph, Bytes donor) {
  ByteBuffer out(photograph.begin(), photograph.end());
  for (const Step& s : mutation.steps) do_step(out, s, donor);
  return out;
}

std::string describe(const Mutation& mutation) {
  std::string out;
  for (const Step& s : mutation.steps) out += (out.empty() ? "" : "; ") + words(s);
  return out;
}

}  // namespace burstsieve::mutate
