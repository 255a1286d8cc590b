// The checksum of a whole file, computed piece by piece.
//
// XXH3 with 128 bits: it guards photographs against tired disks, cables and cards, not against forgers, and
// it is faster than any of these can read, where SHA-256 without special instructions is slower than a fast
// disk. 128 bits, because a season has a million files. Anybody can check it: `xxhsum -H2 FILE`.
#pragma once
#include <memory>
#include <string>

#include "burstsieve/base/file_system.h"

namespace burstsieve {

class Checksum {
 public:
  Checksum();
  ~Checksum();
  Checksum(const Checksum&) = delete;
  Checksum& operator=(const Checksum&) = delete;
  void add(Bytes bytes);
  // 32 lower-case hexadecimal digits of what was added so far, in XXH's canonical (big-endian) order.
  std::string text() const;

 private:
  struct State;
  std::unique_ptr<State> state_;
};

struct SummedFile {
  FileStat stat;         // of the very file that was read
  std::string checksum;  // Checksum::text() of all of it
};

// Reads the file through, 1 MiB at a time. Cause::io when it changes meanwhile; errors as FileSystem::open().
Result<SummedFile> sum_file(FileSystem& fs, const std::string& path, bool from_device = false);

}  // namespace burstsieve
