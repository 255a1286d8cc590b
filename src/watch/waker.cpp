#include "burstsieve/watch/waker.h"

#include <poll.h>
#include <sys/eventfd.h>
#include <sys/inotify.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <set>

namespace burstsieve::watch {
namespace {

// What a file that arrives, goes or is finished gives rise to. IN_MODIFY would fire at every write of a copy.
constexpr std::uint32_t kEvents = IN_CREATE | IN_CLOSE_WRITE | IN_MOVED_TO | IN_MOVED_FROM | IN_DELETE |
                                  IN_DELETE_SELF | IN_MOVE_SELF | IN_ONLYDIR;

}  // namespace

InotifyWaker::InotifyWaker()
    : inotify_(::inotify_init1(IN_NONBLOCK | IN_CLOEXEC)), event_(::eventfd(0, EFD_NONBLOCK | EFD_CLOEXEC)) {}

InotifyWaker::~InotifyWaker() {
  if (inotify_ >= 0) ::close(inotify_);
  if (event_ >= 0) ::close(event_);
}

void InotifyWaker::cover(const std::vector<std::string>& folders) {
  if (inotify_ < 0) return;
  const std::set<std::string> wanted(folders.begin(), folders.end());
  for (auto it = watched_.begin(); it != watched_.end();) {
    if (wanted.count(it->first) != 0) {
      ++it;
      continue;
    }
    ::inotify_rm_watch(inotify_, it->second);
    it = watched_.erase(it);
  }
  for (const std::string& folder : wanted) {
    // Asked anew each time: the folder of this name may be another one by now, and then the old watch is
    // dead.
    const int watch = ::inotify_add_watch(inotify_, folder.c_str(), kEvents);
    if (watch >= 0) watched_[folder] = watch;
  }
}

// True when there was anything. What it was does not matter: the next look finds out.
bool InotifyWaker::drain() {
  std::array<char, 16384> buffer;
  bool any = false;
  while (::read(inotify_, buffer.data(), buffer.size()) > 0) any = true;
  return any;
}

void InotifyWaker::wait(std::int64_t milliseconds) {
  std::array<pollfd, 2> fds{pollfd{event_, POLLIN, 0}, pollfd{inotify_, POLLIN, 0}};  // -1 is passed over
  const auto limited = static_cast<int>(std::clamp<std::int64_t>(milliseconds, 0, 3'600'000));
  static_cast<void>(::poll(fds.data(), fds.size(), limited));
  if (inotify_ >= 0) drain();
  std::uint64_t count = 0;
  static_cast<void>(::read(event_, &count, sizeof count) < 0);
}

void InotifyWaker::wake() noexcept {
  const std::uint64_t one = 1;
  static_cast<void>(::write(event_, &one, sizeof one) < 0);
}

}  // namespace burstsieve::watch
