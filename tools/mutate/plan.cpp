// Chooses the damage.
#include <algorithm>
#include <array>

#include "dice.h"
#include "mutate.h"

namespace burstsieve::mutate {
namespace {

constexpr unsigned kLongestRunBits = 14;
constexpr std::uint64_t kMostInserted = 256;
constexpr std::uint64_t kSector = 512;  // of cards

class Planner {
 public:
  Planner(Bytes photograph, const PictureMap& map, std::uint64_t donor_size, std::uint64_t seed)
      : size_(photograph.size()), map_(map), donor_size_(donor_size), dice_(seed) {
    std::uint64_t end = 0;
    for (const Range& r : map.picture) {
      if (r.begin > end) notes_.push_back({end, r.begin});
      end = r.end;
    }
    if (end < size_) notes_.push_back({end, size_});
  }

  Mutation run() {
    Mutation out;
    if (size_ == 0) return out;
    const std::uint64_t luck = dice_.below(10);
    const int steps = luck < 7 ? 1 : luck < 9 ? 2 : 3;
    for (int i = 0; i < steps; ++i) out.steps.push_back(step());
    return out;
  }

 private:
  std::uint64_t place_in(const std::vector<Range>& ranges) {
    std::uint64_t all = 0;
    for (const Range& r : ranges) all += r.end - r.begin;
    std::uint64_t n = dice_.below(all);
    for (const Range& r : ranges) {
      if (n < r.end - r.begin) return r.begin + n;
      n -= r.end - r.begin;
    }
    return dice_.below(size_);
  }

  // Half in the picture, a quarter in what is no picture, a quarter anywhere.
  std::uint64_t place() {
    const std::uint64_t luck = dice_.below(4);
    if (luck == 3) return dice_.below(size_);
    return place_in(luck == 2 ? notes_ : map_.picture);
  }

  // What a header states; in notes, whose layout we don't know, any place may hold a number.
  HeaderNumber number() {
    if (!notes_.empty() && (map_.numbers.empty() || dice_.below(2) == 0)) {
      HeaderNumber n;
      n.at = place_in(notes_);
      n.width = dice_.below(2) == 0 ? 2 : 4;
      n.order = dice_.below(2) == 0 ? ByteOrder::little : ByteOrder::big;
      return n;
    }
    return map_.numbers[dice_.below(map_.numbers.size())];
  }

  Step step() {
    Step s;
    s.kind = static_cast<Kind>(dice_.below(kKinds));
    if ((s.kind == Kind::splice && donor_size_ == 0) ||
        (s.kind == Kind::extreme_number && map_.numbers.empty() && notes_.empty()))
      s.kind = Kind::flip_bits;
    s.at = place();
    s.seed = dice_.next();
    switch (s.kind) {
      case Kind::truncate:
        // Copies break off anywhere, and often in the last block.
        if (dice_.below(4) == 0) s.at = size_ - std::min(size_, dice_.any_scale(12));
        break;
      case Kind::flip_bits:
        s.count = dice_.any_scale(6);
        s.other = dice_.any_scale(20);
        break;
      case Kind::zero_run:
      case Kind::random_run:
      case Kind::remove:
        s.count = dice_.any_scale(kLongestRunBits);
        break;
      case Kind::swap_blocks:
        s.count = kSector << dice_.below(4);
        s.at = s.at / kSector * kSector;
        s.other = place() / kSector * kSector;
        break;
      case Kind::extreme_number:
        extreme(s);
        break;
      case Kind::insert:
        s.count = 1 + dice_.below(kMostInserted);
        break;
      case Kind::splice:
        s.other = dice_.below(donor_size_);
        break;
    }
    return s;
  }

  void extreme(Step& s) {
    const HeaderNumber n = number();
    s.at = n.at;
    s.width = n.width;
    s.order = n.order;
    const std::array<std::uint64_t, 10> values{0,          1,          0x7fff,     0x8000, 0xffff,
                                               0x7fffffff, 0x80000000, 0xffffffff, size_,  size_ - 1};
    s.value = values[dice_.below(values.size())];
    if (s.width == 2) s.value &= 0xffff;
  }

  std::uint64_t size_;
  const PictureMap& map_;
  std::uint64_t donor_size_;
  Dice dice_;
  std::vector<Range> notes_;  // what the map does not count as picture
};

}  // namespace

Mutation plan(Bytes photograph, const PictureMap& map, std::uint64_t donor_size, std::uint64_t seed) {
  return Planner(photograph, map, donor_size, seed).run();
}

}  // namespace burstsieve::mutate
