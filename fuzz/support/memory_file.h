// Bytes as a file with a path, for readers that open files; never touches a disk.
#pragma once
#include <string>

#include "burstsieve/base/bytes.h"

namespace burstsieve::fuzz {

class MemoryFile {
 public:
  explicit MemoryFile(Bytes bytes);
  MemoryFile(const MemoryFile&) = delete;
  MemoryFile& operator=(const MemoryFile&) = delete;
  ~MemoryFile();
  const std::string& path() const { return path_; }

 private:
  int fd_;
  std::string path_;
};

}  // namespace burstsieve::fuzz
