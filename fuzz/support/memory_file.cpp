#include "memory_file.h"

#include <sys/mman.h>
#include <unistd.h>

#include "target.h"

namespace burstsieve::fuzz {

MemoryFile::MemoryFile(Bytes bytes) : fd_(::memfd_create("fuzz", MFD_CLOEXEC)) {
  require(fd_ >= 0, "the machine gives us a memory file");
  std::size_t done = 0;
  while (done < bytes.size()) {
    const auto wrote = ::write(fd_, bytes.data() + done, bytes.size() - done);
    require(wrote > 0, "a memory file can be written");
    done += static_cast<std::size_t>(wrote);
  }
  path_ = "/proc/self/fd/" + std::to_string(fd_);
}

MemoryFile::~MemoryFile() {
  ::close(fd_);
}

}  // namespace burstsieve::fuzz
