// Damage as it happens to photographs on cards, cables and disks, chosen by a seed and fully described: for
// runs of the whole engine over thousands of broken files whose truth is known.
//
//   const PictureMap map = map_of(photograph);
//   const Mutation m = plan(photograph, map, donor.size(), seed);
//   const ByteBuffer broken = apply(m, photograph, donor);
//   // touches_picture(map, photograph, broken), describe(m)
#pragma once
#include <cstdint>
#include <string>
#include <vector>

#include "burstsieve/base/bytes.h"

namespace burstsieve::mutate {

struct Range {
  std::uint64_t begin = 0, end = 0;  // bytes, `end` not included
  bool operator==(const Range&) const = default;
};

// A size, count or offset that a header states.
struct HeaderNumber {
  std::uint64_t at = 0;
  int width = 4;  // bytes: 2 or 4
  ByteOrder order = ByteOrder::little;
};

// What the pixels of a photograph depend on.
struct PictureMap {
  // Bytes that are pixels, or lead to them: image data, its tables and frame headers; for a DNG the
  // directories and what they point at, too. Ascending, apart from each other.
  std::vector<Range> picture;
  std::vector<HeaderNumber> numbers;
  // False: a container this map does not know (a camera's own raw). Then `picture` is the whole file, as any
  // byte of it, a maker note's included, may steer the raw decoder.
  bool exact = false;
};

// Walks the segments of a JPEG or the directories of a DNG; anything else is one range. Never fails. What
// stands behind a JPEG's end is not picture; nor are Exif, notes and colour profiles, but for the segments
// that tell a decoder how to read the colours (JFIF, Adobe).
PictureMap map_of(Bytes photograph);

enum class Kind {
  truncate,        // the file ends at `at`
  flip_bits,       // `count` bits in the `other` bytes from `at`
  zero_run,        // `count` bytes from `at` become zero
  random_run,      // ... become noise
  swap_blocks,     // `count` bytes at `at` and at `other` change places
  extreme_number,  // the number of `width` bytes at `at` becomes `value`
  insert,          // `count` bytes of noise before `at`
  remove,          // `count` bytes from `at` are missing
  splice,          // from `at` on, the file is another one's from `other` on
};
inline constexpr int kKinds = 9;

struct Step {
  Kind kind = Kind::truncate;
  std::uint64_t at = 0, count = 0, other = 0, value = 0;
  int width = 0;
  ByteOrder order = ByteOrder::little;
  std::uint64_t seed = 0;  // of the noise
  bool operator==(const Step&) const = default;
};

// One to three steps, done in order.
struct Mutation {
  std::vector<Step> steps;
  bool operator==(const Mutation&) const = default;
};

// The same arguments give the same plan on every machine. Half of the places lie in picture data, a quarter
// in what is none. An empty photograph gives no steps; donor_size 0: no splice.
Mutation plan(Bytes photograph, const PictureMap& map, std::uint64_t donor_size, std::uint64_t seed);

// Places beyond the bytes, which an earlier step may have cut, are drawn in; never fails. The result is at
// most photograph.size() + donor.size() + 4096 bytes long for a plan from plan().
ByteBuffer apply(const Mutation& mutation, Bytes photograph, Bytes donor);

// One line for a person: "zeroes: 512 bytes from 40960; ends at 100000".
std::string describe(const Mutation& mutation);

// False: every byte that the pixels depend on is the same in the same place, so they must come out the same.
// True: one is not; they may still look the same (a flipped bit in padding).
bool touches_picture(const PictureMap& map, Bytes before, Bytes after);

}  // namespace burstsieve::mutate
