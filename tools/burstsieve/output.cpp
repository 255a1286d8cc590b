#include "output.h"

#include <fcntl.h>

#include <cerrno>
#include <csignal>

namespace burstsieve::tool {

void put(std::FILE* to, std::string_view text) {
  static_cast<void>(std::fwrite(text.data(), 1, text.size(), to));  // the stream remembers that it failed
}

bool lost_output() {
  if (std::fflush(stdout) == 0 && !std::ferror(stdout)) return false;
  complain("burstsieve: standard output: could not be written; the work itself is done\n");
  return true;
}

bool open_standard_files() {
  // In this order: a number below that is free would be given first.
  for (const int fd : {0, 1, 2})
    if (::fcntl(fd, F_GETFD) < 0 && errno == EBADF &&
        ::open("/dev/null", fd == 0 ? O_RDONLY : O_WRONLY) != fd)
      return false;
  return true;
}

void outlive_readers() {
  std::signal(SIGPIPE, SIG_IGN);
}

}  // namespace burstsieve::tool
