// Promise: a stored record is refused, or it is exactly what we would store again.
//
// Input: read as a record as it stands, and as the body of a record whose checksum is right: a fuzzer that
// must guess checksums finds nothing.
#include <xxhash.h>

#include <algorithm>

#include "codec.h"
#include "support/target.h"

using namespace burstsieve;
using namespace burstsieve::catalog;

namespace {

bool equal(Bytes a, Bytes b) {
  return std::equal(a.begin(), a.end(), b.begin(), b.end());
}

template <class Decoded>
bool round_trip(Bytes record, const Decoded& decoded) {
  if (!decoded) {
    fuzz::require(decoded.error().cause == Cause::corrupt, "a damaged record is corrupt");
    fuzz::refused(decoded.error());
    return false;
  }
  fuzz::require(equal(encode(*decoded), record), "a record reads back as itself");
  return true;
}

bool read_all(Bytes record) {
  const Bytes no_thumbnail;
  const bool capture = round_trip(record, decode_capture(record));
  const bool facts = round_trip(record, decode_facts(record, no_thumbnail));
  const bool verdict = round_trip(record, decode_verdict(record));
  return capture || facts || verdict;
}

}  // namespace

int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const Bytes bytes(data, size);
  bool accepted = read_all(bytes);
  ByteBuffer sealed(data, data + size);
  if (!sealed.empty()) sealed[0] = catalog::kLayout;
  const std::uint64_t sum = XXH64(sealed.data(), sealed.size(), catalog::kLayout);
  for (int i = 0; i < 8; ++i) sealed.push_back(static_cast<std::uint8_t>(sum >> (8 * i)));
  accepted = read_all(sealed) || accepted;
  if (accepted) fuzz::came_out("accepted");
  return 0;
}
