// Sleeping between two looks, and being woken early.
#pragma once
#include <cstdint>
#include <map>
#include <string>
#include <vector>

namespace burstsieve::watch {

class Waker {
 public:
  Waker() = default;
  Waker(const Waker&) = delete;
  Waker& operator=(const Waker&) = delete;
  virtual ~Waker() = default;
  // The folders whose changes are worth waking for.
  virtual void cover(const std::vector<std::string>& folders) = 0;
  // Returns after `milliseconds`, or earlier; for whatever reason, and possibly for none.
  virtual void wait(std::int64_t milliseconds) = 0;
};

// inotify where there is any. It only ever makes the next look come sooner: a full queue, a folder that can't
// be watched (no room, a network share) or a kernel without inotify cost latency and nothing else.
class InotifyWaker final : public Waker {
 public:
  InotifyWaker();
  ~InotifyWaker() override;
  void cover(const std::vector<std::string>& folders) override;
  void wait(std::int64_t milliseconds) override;
  // Ends the current wait, or the next one. May be called from a signal handler or another thread.
  void wake() noexcept;

 private:
  bool drain();
  int inotify_ = -1, event_ = -1;
  std::map<std::string, int> watched_;
};

}  // namespace burstsieve::watch
