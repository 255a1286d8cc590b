// One watcher per folder. A lock is a file in the state folder, named after the device and inode of the
// watched folder, with the holder's name in it; what locks is flock(2), so that a killed holder leaves none
// behind. Folders inside each other overlap: who holds one holds the other.
#pragma once
#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "burstsieve/base/clock.h"
#include "burstsieve/base/result.h"

namespace burstsieve::watch {

struct Holder {
  std::string folder;   // as the holder reached it, absolute
  std::string command;  // "watch" or "nightly"
  std::string host;
  std::int64_t pid = 0;
  std::int64_t since_ms = 0;  // since 1970
  // "burstsieve watch, process 4711 on host quay, since 2026-11-25 21:30:04 UTC"
  std::string text() const;
};

class FolderLock {
 public:
  // Cause::unsupported, naming the holder, when somebody watches the folder, one above or one below it;
  // Cause::io when the state folder can't be used or `folder` is not there.
  static Result<FolderLock> take(const std::string& folder, const std::string& command,
                                 const std::string& state_folder, Clock& clock);
  // Who watches `folder`, one above or one below it. Nothing when nobody does, or when nothing can be found
  // out.
  static std::optional<Holder> holder_of(const std::string& folder, const std::string& state_folder);

  FolderLock(FolderLock&& other) noexcept;
  FolderLock& operator=(FolderLock&& other) noexcept;
  ~FolderLock();

  // False when another folder stands at the path now (another card, a share mounted over it), or none.
  bool still_there() const;
  const std::string& folder() const { return folder_; }  // absolute, links resolved

 private:
  FolderLock() = default;
  void release();
  int fd_ = -1;
  std::string folder_, file_, state_;
  std::string id_;
};

}  // namespace burstsieve::watch
