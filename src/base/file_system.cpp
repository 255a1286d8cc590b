#include "burstsieve/base/file_system.h"

#include <dirent.h>
#include <fcntl.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <chrono>
#include <csignal>
#include <cstdio>
#include <cstring>
#include <system_error>
#include <thread>
#include <utility>

namespace burstsieve {

namespace {

Error refused(const std::string& path, const char* doing, int code) {
  return Error{Cause::io, path, std::string(doing) + ": " + std::generic_category().message(code)};
}

template <class Call>
auto resumed(Call call) {
  auto result = call();
  while (result < 0 && errno == EINTR) result = call();
  return result;
}

class Descriptor {
 public:
  explicit Descriptor(int fd) : fd_(fd) {}
  Descriptor(const Descriptor&) = delete;
  Descriptor& operator=(const Descriptor&) = delete;
  ~Descriptor() { close(); }
  int get() const { return fd_; }
  bool open() const { return fd_ >= 0; }
  int release() { return std::exchange(fd_, -1); }
  // Linux has released the descriptor even when close() says EINTR: it is never called twice.
  int close() {
    if (fd_ < 0) return 0;
    const int code = ::close(fd_) < 0 && errno != EINTR ? errno : 0;
    fd_ = -1;
    return code;
  }

 private:
  int fd_;
};

FileStat as_file_stat(const struct stat& s) {
  FileStat out;
  out.type = S_ISREG(s.st_mode)   ? FileType::regular
             : S_ISDIR(s.st_mode) ? FileType::folder
             : S_ISLNK(s.st_mode) ? FileType::symlink
                                  : FileType::other;
  out.size = static_cast<std::uint64_t>(s.st_size);
  out.mtime_ns = static_cast<std::int64_t>(s.st_mtim.tv_sec) * 1'000'000'000 + s.st_mtim.tv_nsec;
  out.mode = s.st_mode & 07777;
  out.owner = s.st_uid;
  out.group = s.st_gid;
  out.identity = s.st_ino;
  return out;
}

class RealNewFile final : public NewFile {
 public:
  RealNewFile(int fd, std::string path)
      : fd_(fd), lock_(::fcntl(fd, F_DUPFD_CLOEXEC, 0)), path_(std::move(path)) {}

  Status write(Bytes bytes) override {
    while (!bytes.empty()) {
      const auto n = resumed([&] { return ::write(fd_.get(), bytes.data(), bytes.size()); });
      if (n < 0) return refused(path_, "cannot write", errno);
      bytes = bytes.subspan(static_cast<std::size_t>(n));
    }
    return Done{};
  }

  Status take_after(const FileStat& model) override {
    struct stat mine {};
    if (::fstat(fd_.get(), &mine) < 0) return refused(path_, "cannot stat", errno);
    // Only the superuser can give files away; anyone else's replaced file becomes their own, which is the
    // most the system lets them do. The owner is set first: chown clears set-id bits.
    if (mine.st_uid != model.owner || mine.st_gid != model.group)
      if (::fchown(fd_.get(), model.owner, model.group) < 0 && errno != EPERM)
        return refused(path_, "cannot set the owner", errno);
    if (::fchmod(fd_.get(), model.mode & 0777) < 0) return refused(path_, "cannot set permissions", errno);
    return Done{};
  }

  Status set_mtime(std::int64_t ns) override {
    // Floored: a time before 1970 has a negative second and a positive rest.
    constexpr std::int64_t kSecond = 1'000'000'000;
    const std::int64_t rest = (ns % kSecond + kSecond) % kSecond;
    const timespec times[2] = {{0, UTIME_OMIT}, {(ns - rest) / kSecond, rest}};
    if (::futimens(fd_.get(), times) < 0) return refused(path_, "cannot set the time", errno);
    return Done{};
  }

  Status sync() override {
    if (resumed([&] { return ::fsync(fd_.get()); }) < 0) return refused(path_, "cannot sync", errno);
    return Done{};
  }

  Status close() override {
    const int code = fd_.close();
    if (code != 0) return refused(path_, "cannot close", code);
    return Done{};
  }

 private:
  Descriptor fd_;
  // The same open file: it keeps the lock while the file, closed, waits to be read back and renamed.
  Descriptor lock_;
  std::string path_;
};

// Marks a new file as somebody's: the system drops the lock when its last descriptor goes, however the
// process ends. False: remove_abandoned() of another process was faster and the file is gone. Where there
// are no such locks nobody can take the file for abandoned either.
bool marked_as_held(int fd) {
  for (int tries = 0; ::flock(fd, LOCK_EX | LOCK_NB) < 0; ++tries) {
    if (errno != EWOULDBLOCK || tries == 1000) break;
    std::this_thread::sleep_for(std::chrono::milliseconds(1));
  }
  struct stat s {};
  return ::fstat(fd, &s) < 0 || s.st_nlink > 0;
}

Error not_regular(const std::string& path, bool link) {
  return Error{Cause::unsupported, path, link ? "is a symbolic link, left alone" : "is not a regular file"};
}

}  // namespace

Result<ByteBuffer> RealFileSystem::read_file(const std::string& path, std::uint64_t max_bytes) {
  // O_NONBLOCK: opening a pipe must not wait for its writer.
  Descriptor fd(resumed(
      [&] { return ::open(path.c_str(), O_RDONLY | O_NOFOLLOW | O_NONBLOCK | O_NOCTTY | O_CLOEXEC); }));
  if (!fd.open()) return errno == ELOOP ? not_regular(path, true) : refused(path, "cannot open", errno);
  struct stat s {};
  if (::fstat(fd.get(), &s) < 0) return refused(path, "cannot stat", errno);
  if (!S_ISREG(s.st_mode)) return not_regular(path, false);

  const Error too_long{Cause::limit, path, "is longer than " + std::to_string(max_bytes) + " bytes"};
  if (static_cast<std::uint64_t>(s.st_size) > max_bytes) return too_long;
  ByteBuffer out(static_cast<std::size_t>(s.st_size));
  std::size_t got = 0;
  // Reads on until the end: the file may have grown since fstat.
  for (;;) {
    if (got == out.size()) out.resize(got + 4096);
    const auto n = resumed([&] { return ::read(fd.get(), out.data() + got, out.size() - got); });
    if (n < 0) return refused(path, "cannot read", errno);
    if (n == 0) break;
    got += static_cast<std::size_t>(n);
    if (got > max_bytes) return too_long;
  }
  out.resize(got);
  return out;
}

Result<std::optional<FileStat>> RealFileSystem::stat(const std::string& path) {
  struct stat s {};
  if (::lstat(path.c_str(), &s) == 0) return std::optional<FileStat>(as_file_stat(s));
  if (errno == ENOENT || errno == ENOTDIR) return std::optional<FileStat>();
  return refused(path, "cannot stat", errno);
}

Result<std::vector<std::string>> RealFileSystem::list(const std::string& path) {
  DIR* dir = ::opendir(path.c_str());
  if (dir == nullptr) return refused(path, "cannot open the folder", errno);
  std::vector<std::string> names;
  int code = 0;
  for (;;) {
    errno = 0;
    const dirent* entry = ::readdir(dir);
    if (entry == nullptr) {
      code = errno;
      break;
    }
    const std::string name = entry->d_name;
    if (name != "." && name != "..") names.push_back(name);
  }
  ::closedir(dir);
  if (code != 0) return refused(path, "cannot list the folder", code);
  std::sort(names.begin(), names.end());
  return names;
}

Result<std::unique_ptr<NewFile>> RealFileSystem::create(const std::string& path, std::uint32_t mode) {
  for (;;) {
    const int fd = resumed([&] {
      return ::open(path.c_str(), O_WRONLY | O_CREAT | O_EXCL | O_NOFOLLOW | O_CLOEXEC,
                    static_cast<mode_t>(mode));
    });
    if (fd < 0) return refused(path, "cannot create", errno);
    auto file = std::make_unique<RealNewFile>(fd, path);
    if (marked_as_held(fd)) return std::unique_ptr<NewFile>(std::move(file));
  }
}

namespace {

// True when some process has the file open for writing: what it is about to write would go into the file that
// loses its name, and be lost with it (a program that cuts a sidecar to nothing, then writes it). A lease for
// reading is refused then (fcntl(2)). Where there are none (network shares, a file of another owner) nobody
// can tell.
bool being_written(const std::string& path) {
  Descriptor fd(resumed(
      [&] { return ::open(path.c_str(), O_RDONLY | O_NOFOLLOW | O_NONBLOCK | O_NOCTTY | O_CLOEXEC); }));
  // Who opens it in these microseconds waits, and we are told: not by SIGIO, which would end us.
  if (!fd.open() || ::fcntl(fd.get(), F_SETSIG, SIGURG) < 0) return false;
  if (::fcntl(fd.get(), F_SETLEASE, F_RDLCK) < 0) return errno == EAGAIN;
  ::fcntl(fd.get(), F_SETLEASE, F_UNLCK);
  return false;
}

}  // namespace

Status RealFileSystem::rename(const std::string& from, const std::string& to, bool replace) {
  if (replace && being_written(to))
    return Error{Cause::io, to, "is being written by another program, left alone"};
  const unsigned flags = replace ? 0u : static_cast<unsigned>(RENAME_NOREPLACE);
  if (::renameat2(AT_FDCWD, from.c_str(), AT_FDCWD, to.c_str(), flags) == 0) return Done{};
  if (replace || (errno != EINVAL && errno != ENOSYS)) return refused(to, "cannot rename to it", errno);
  // File systems without RENAME_NOREPLACE (some network shares): a hard link refuses an existing name, and
  // where there are no hard links either (FAT), a look before the rename has to do.
  if (::link(from.c_str(), to.c_str()) == 0) return remove(from);
  if (errno == EEXIST) return refused(to, "cannot rename to it", errno);
  struct stat s {};
  if (::lstat(to.c_str(), &s) == 0) return refused(to, "cannot rename to it", EEXIST);
  if (::rename(from.c_str(), to.c_str()) < 0) return refused(to, "cannot rename to it", errno);
  return Done{};
}

Status RealFileSystem::remove(const std::string& path) {
  if (::unlink(path.c_str()) < 0) return refused(path, "cannot remove", errno);
  return Done{};
}

Result<bool> RealFileSystem::remove_abandoned(const std::string& path) {
  // For writing: some network file systems lock nothing else exclusively.
  Descriptor fd(resumed(
      [&] { return ::open(path.c_str(), O_WRONLY | O_NOFOLLOW | O_NONBLOCK | O_NOCTTY | O_CLOEXEC); }));
  if (!fd.open() && errno == ENOENT) return false;
  if (!fd.open()) return refused(path, "cannot open", errno);
  struct stat held {
  }, named{};
  if (::fstat(fd.get(), &held) < 0) return refused(path, "cannot stat", errno);
  if (!S_ISREG(held.st_mode) || ::flock(fd.get(), LOCK_EX | LOCK_NB) < 0) return false;
  // Under the lock: the name may have gone to another file since it was opened.
  if (::lstat(path.c_str(), &named) < 0 || named.st_ino != held.st_ino || named.st_dev != held.st_dev)
    return false;
  if (auto s = remove(path); !s) return s.error();
  return true;
}

Status RealFileSystem::make_folder(const std::string& path, std::uint32_t mode) {
  if (::mkdir(path.c_str(), static_cast<mode_t>(mode)) == 0) return Done{};
  const int code = errno;
  struct stat s {};
  // A link to a folder counts as one.
  if (code == EEXIST && ::stat(path.c_str(), &s) == 0 && S_ISDIR(s.st_mode)) return Done{};
  return refused(path, "cannot make the folder", code);
}

Status RealFileSystem::sync_folder(const std::string& path) {
  Descriptor fd(resumed([&] { return ::open(path.c_str(), O_RDONLY | O_DIRECTORY | O_CLOEXEC); }));
  if (!fd.open()) return refused(path, "cannot open the folder", errno);
  // Some network and FUSE file systems know no fsync on folders and say EINVAL; there is nothing more to do.
  if (resumed([&] { return ::fsync(fd.get()); }) < 0 && errno != EINVAL && errno != ENOTSUP)
    return refused(path, "cannot sync the folder", errno);
  return Done{};
}

namespace {

class RealOpenFile final : public OpenFile {
 public:
  RealOpenFile(int fd, std::string path) : fd_(fd), path_(std::move(path)) {}
  Result<FileStat> stat() override {
    struct stat s {};
    if (::fstat(fd_.get(), &s) < 0) return refused(path_, "cannot stat", errno);
    return as_file_stat(s);
  }
  Result<std::size_t> read(std::span<std::uint8_t> into) override {
    const auto n = resumed([&] { return ::read(fd_.get(), into.data(), into.size()); });
    if (n < 0) return refused(path_, "cannot read", errno);
    return static_cast<std::size_t>(n);
  }

 private:
  Descriptor fd_;
  std::string path_;
};

class RealHold final : public FolderHold {
 public:
  explicit RealHold(int fd) : fd_(fd) {}

 private:
  Descriptor fd_;
};

Error cannot_here(const std::string& path) {
  return Error{Cause::unsupported, path, "this file system does not move files"};
}

}  // namespace

Status NewFile::set_mtime(std::int64_t) {
  return cannot_here({});
}
Result<std::unique_ptr<OpenFile>> FileSystem::open(const std::string& path, bool) {
  return cannot_here(path);
}
Result<std::unique_ptr<NewFile>> FileSystem::append(const std::string& path) {
  return cannot_here(path);
}
Result<Renamed> FileSystem::rename_on_device(const std::string&, const std::string& to) {
  return cannot_here(to);
}
Status FileSystem::check_writable(const std::string& folder) {
  return cannot_here(folder);
}
Result<std::unique_ptr<FolderHold>> FileSystem::hold(const std::string& folder) {
  return cannot_here(folder);
}

Result<std::unique_ptr<OpenFile>> RealFileSystem::open(const std::string& path, bool from_device) {
  Descriptor fd(resumed(
      [&] { return ::open(path.c_str(), O_RDONLY | O_NOFOLLOW | O_NONBLOCK | O_NOCTTY | O_CLOEXEC); }));
  if (!fd.open()) return errno == ELOOP ? not_regular(path, true) : refused(path, "cannot open", errno);
  struct stat s {};
  if (::fstat(fd.get(), &s) < 0) return refused(path, "cannot stat", errno);
  if (!S_ISREG(s.st_mode)) return not_regular(path, false);
  // Advice only: pages that are not on the disk yet stay, which is why the writer syncs first.
  if (from_device) static_cast<void>(::posix_fadvise(fd.get(), 0, 0, POSIX_FADV_DONTNEED));
  static_cast<void>(::posix_fadvise(fd.get(), 0, 0, POSIX_FADV_SEQUENTIAL));
  return std::unique_ptr<OpenFile>(std::make_unique<RealOpenFile>(fd.release(), path));
}

Result<std::unique_ptr<NewFile>> RealFileSystem::append(const std::string& path) {
  const int fd = resumed(
      [&] { return ::open(path.c_str(), O_WRONLY | O_APPEND | O_NOFOLLOW | O_CLOEXEC | O_NONBLOCK); });
  if (fd < 0) return errno == ELOOP ? not_regular(path, true) : refused(path, "cannot open", errno);
  return std::unique_ptr<NewFile>(std::make_unique<RealNewFile>(fd, path));
}

Result<Renamed> RealFileSystem::rename_on_device(const std::string& from, const std::string& to) {
  if (::renameat2(AT_FDCWD, from.c_str(), AT_FDCWD, to.c_str(), RENAME_NOREPLACE) == 0) return Renamed::done;
  if (errno == EXDEV) return Renamed::other_device;
  if (errno != EINVAL && errno != ENOSYS) return refused(to, "cannot rename to it", errno);
  struct stat source {
  }, folder{};
  if (::lstat(from.c_str(), &source) == 0 && ::stat(folder_of(to).c_str(), &folder) == 0 &&
      source.st_dev != folder.st_dev)
    return Renamed::other_device;
  if (auto s = rename(from, to, false); !s) return s.error();
  return Renamed::done;
}

Status RealFileSystem::check_writable(const std::string& folder) {
  if (::faccessat(AT_FDCWD, folder.c_str(), W_OK | X_OK, AT_EACCESS) < 0)
    return refused(folder, "cannot change the folder", errno);
  return Done{};
}

Result<std::unique_ptr<FolderHold>> RealFileSystem::hold(const std::string& folder) {
  Descriptor fd(resumed([&] { return ::open(folder.c_str(), O_RDONLY | O_DIRECTORY | O_CLOEXEC); }));
  if (!fd.open()) return refused(folder, "cannot open the folder", errno);
  if (resumed([&] { return ::flock(fd.get(), LOCK_EX | LOCK_NB); }) < 0 && errno == EWOULDBLOCK)
    return Error{Cause::unsupported, folder, "is in use by another burstsieve"};
  return std::unique_ptr<FolderHold>(std::make_unique<RealHold>(fd.release()));
}

std::string folder_of(const std::string& path) {
  const auto slash = path.rfind('/');
  if (slash == std::string::npos) return ".";
  return slash == 0 ? "/" : path.substr(0, slash);
}

std::string leaf_of(const std::string& path) {
  const auto slash = path.rfind('/');
  return slash == std::string::npos ? path : path.substr(slash + 1);
}

Status make_folders(FileSystem& fs, const std::string& folder, std::uint32_t mode) {
  std::vector<std::string> missing;
  std::string at = folder;
  while (at.size() > 1 && at.back() == '/') at.pop_back();
  for (;;) {
    const auto found = fs.stat(at);
    if (!found) return found.error();
    if (*found) break;
    missing.push_back(at);
    const std::string above = folder_of(at);
    if (above == at) break;
    at = above;
  }
  for (auto it = missing.rbegin(); it != missing.rend(); ++it) {
    if (auto made = fs.make_folder(*it, mode); !made) return made.error();
    if (auto synced = fs.sync_folder(folder_of(*it)); !synced) return synced.error();
  }
  return Done{};
}

}  // namespace burstsieve
