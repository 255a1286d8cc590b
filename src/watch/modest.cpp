#include "burstsieve/watch/modest.h"

#include <sys/resource.h>
#include <sys/syscall.h>
#include <unistd.h>

#include <cerrno>
#include <cstdlib>
#include <cstring>

namespace burstsieve::watch {
namespace {

// Linux, include/uapi/linux/ioprio.h (Debian's headers before 6.x do not install it): class << 13 | level.
constexpr int kWhoProcess = 1, kClassShift = 13, kBestEffort = 2, kIdle = 3;

}  // namespace

Status be_modest(const Modesty& m) {
  if (m.nice > 0) {
    errno = 0;
    const int now = ::getpriority(PRIO_PROCESS, 0);
    if (errno == 0 && now < m.nice && ::setpriority(PRIO_PROCESS, 0, m.nice) != 0)
      return Error{Cause::io, {}, std::string("can't lower the priority: ") + std::strerror(errno)};
  }
  if (m.disk == DiskPriority::normal) return Done{};
  const int wanted = m.disk == DiskPriority::idle ? kIdle << kClassShift : kBestEffort << kClassShift | 7;
  if (::syscall(SYS_ioprio_set, kWhoProcess, 0, wanted) != 0)
    return Error{Cause::io, {}, std::string("can't lower the disk priority: ") + std::strerror(errno)};
  return Done{};
}

std::optional<double> load_average() {
  double one = 0;
  if (::getloadavg(&one, 1) != 1) return std::nullopt;
  return one;
}

}  // namespace burstsieve::watch
