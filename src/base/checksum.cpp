#include "burstsieve/base/checksum.h"

#include <fmt/format.h>
#include <xxhash.h>

#include <new>

namespace burstsieve {

namespace {

constexpr std::size_t kPiece = 1 << 20;

}  // namespace

struct Checksum::State {
  State() : xxh(XXH3_createState()) {
    if (xxh == nullptr) throw std::bad_alloc();
    XXH3_128bits_reset(xxh);
  }
  ~State() { XXH3_freeState(xxh); }
  State(const State&) = delete;
  State& operator=(const State&) = delete;
  XXH3_state_t* xxh;
};

Checksum::Checksum() : state_(std::make_unique<State>()) {}
Checksum::~Checksum() = default;

void Checksum::add(Bytes bytes) {
  XXH3_128bits_update(state_->xxh, bytes.data(), bytes.size());
}

std::string Checksum::text() const {
  const XXH128_hash_t hash = XXH3_128bits_digest(state_->xxh);
  return fmt::format("{:016x}{:016x}", hash.high64, hash.low64);
}

Result<SummedFile> sum_file(FileSystem& fs, const std::string& path, bool from_device) {
  auto file = fs.open(path, from_device);
  if (!file) return file.error();
  const auto before = (*file)->stat();
  if (!before) return before.error();
  Checksum sum;
  ByteBuffer piece(kPiece);
  for (;;) {
    const auto n = (*file)->read(piece);
    if (!n) return n.error();
    if (*n == 0) break;
    sum.add(Bytes(piece).first(*n));
  }
  const auto after = (*file)->stat();
  if (!after) return after.error();
  if (*after != *before) return Error{Cause::io, path, "was changed while it was read"};
  return SummedFile{*after, sum.text()};
}

}  // namespace burstsieve
