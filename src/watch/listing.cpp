#include "burstsieve/watch/listing.h"

#include <dirent.h>
#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <cerrno>
#include <cstring>
#include <set>
#include <string_view>
#include <utility>

#include "burstsieve/base/file_system.h"
#include "burstsieve/base/text.h"

namespace burstsieve::watch {
namespace {

class Look {
 public:
  explicit Look(int max_depth) : max_depth_(max_depth) {}

  void folder(const std::string& path, int depth) {
    if (depth > max_depth_) return;  // the pass names it
    const int fd = ::open(path.c_str(), O_RDONLY | O_DIRECTORY | O_CLOEXEC);
    if (fd < 0) return unreadable(path);
    struct stat st {};
    if (::fstat(fd, &st) != 0) {
      unreadable(path);
      ::close(fd);
      return;
    }
    if (!fresh(st)) {
      ::close(fd);
      return;
    }
    DIR* dir = ::fdopendir(fd);
    if (dir == nullptr) {
      unreadable(path);
      ::close(fd);
      return;
    }
    out_.folders.push_back(path);
    std::vector<std::string> names = names_in(dir, path);
    std::sort(names.begin(), names.end());
    std::vector<std::string> below;
    for (const std::string& name : names) entry(dir, path, name, depth);
    ::closedir(dir);
  }

  Listing finish() {
    std::sort(out_.files.begin(), out_.files.end(),
              [](const FileSeen& a, const FileSeen& b) { return a.path < b.path; });
    return std::move(out_);
  }

 private:
  void unreadable(const std::string& path) { out_.errors.push_back({Cause::io, path, std::strerror(errno)}); }

  bool fresh(const struct stat& st) { return seen_.emplace(st.st_dev, st.st_ino).second; }

  std::vector<std::string> names_in(DIR* dir, const std::string& path) {
    std::vector<std::string> names;
    for (;;) {
      errno = 0;
      const dirent* e = ::readdir(dir);
      if (e == nullptr) break;
      const std::string_view name = e->d_name;
      if (!name.starts_with('.')) names.emplace_back(name);
    }
    if (errno != 0) unreadable(path);
    return names;
  }

  void entry(DIR* dir, const std::string& path, const std::string& name, int depth) {
    if (lower_ascii(name).ends_with(".xmp")) return;  // our own work must not count as an arrival
    struct stat st {};
    const std::string full = path == "/" ? "/" + name : path + "/" + name;
    if (::fstatat(::dirfd(dir), name.c_str(), &st, 0) != 0) {
      // Gone between the two calls, or a link to nowhere: not there. Anything else: not known.
      if (errno != ENOENT && errno != ELOOP) unreadable(full);
      return;
    }
    if (S_ISDIR(st.st_mode)) return folder(full, depth + 1);
    if (!S_ISREG(st.st_mode) || !fresh(st)) return;
    out_.files.push_back({full, static_cast<std::uint64_t>(st.st_size),
                          static_cast<std::int64_t>(st.st_mtim.tv_sec) * 1'000'000'000 + st.st_mtim.tv_nsec});
  }

  int max_depth_;
  Listing out_;
  std::set<std::pair<dev_t, ino_t>> seen_;
};

}  // namespace

Listing RealLister::list(const std::vector<std::string>& places) {
  Look look(max_depth_);
  for (const std::string& place : places) look.folder(place, 0);
  return look.finish();
}

bool is_temporary_name(const std::string& path) {
  // Suffixes of unfinished files: browsers, copy and transfer programs.
  constexpr std::array<std::string_view, 8> suffixes{".part",     ".partial",  ".tmp",        ".temp",
                                                     ".download", ".filepart", ".crdownload", "~"};
  const std::string name = lower_ascii(leaf_of(path));
  return std::any_of(suffixes.begin(), suffixes.end(), [&](std::string_view s) { return name.ends_with(s); });
}

}  // namespace burstsieve::watch
