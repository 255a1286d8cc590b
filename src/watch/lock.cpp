#include "burstsieve/watch/lock.h"

#include <fcntl.h>
#include <fmt/format.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <cerrno>
#include <cstring>
#include <ctime>
#include <nlohmann/json.hpp>
#include <utility>

#include "burstsieve/base/file_system.h"
#include "burstsieve/base/text.h"
#include "burstsieve/watch/state.h"
#include "paths.h"

namespace burstsieve::watch {
namespace {

// "device-inode": a folder by whatever path it is reached.
std::optional<std::string> identity(const std::string& path) {
  struct stat st {};
  if (::stat(path.c_str(), &st) != 0) return std::nullopt;
  return fmt::format("{:x}-{:x}", st.st_dev, st.st_ino);
}

// Of the folder and all above it.
std::vector<std::string> line_of(std::string path) {
  std::vector<std::string> out;
  for (;;) {
    if (auto id = identity(path)) out.push_back(std::move(*id));
    const std::string above = folder_of(path);
    if (above == path || path == ".") return out;
    path = above;
  }
}

// Held while locks are looked through and taken, so that two watchers of nested folders can't both find room.
class Guard {
 public:
  explicit Guard(const std::string& locks) {
    fd_ = ::open((locks + "/guard").c_str(), O_RDWR | O_CREAT | O_CLOEXEC, 0600);
    if (fd_ < 0) return;
    while (::flock(fd_, LOCK_EX) != 0)
      if (errno != EINTR) {
        ::close(fd_);
        fd_ = -1;
        return;
      }
  }
  Guard(const Guard&) = delete;
  Guard& operator=(const Guard&) = delete;
  ~Guard() {
    if (fd_ >= 0) ::close(fd_);
  }
  bool held() const { return fd_ >= 0; }

 private:
  int fd_ = -1;
};

struct HeldLock {
  std::string id;
  Holder holder;
  std::vector<std::string> line;  // identities of the folder and all above it
};

std::string contents_of(int fd) {
  std::string text;
  std::array<char, 4096> buffer;
  for (;;) {
    const auto n = ::pread(fd, buffer.data(), buffer.size(), static_cast<off_t>(text.size()));
    if (n < 0 && errno == EINTR) continue;
    if (n <= 0 || text.size() > (1u << 20)) return text;
    text.append(buffer.data(), static_cast<std::size_t>(n));
  }
}

HeldLock read_lock(int fd, const std::string& id) {
  HeldLock out{id, {}, {id}};
  const auto j = nlohmann::json::parse(contents_of(fd), nullptr, false);
  if (!j.is_object()) return out;  // a holder that could not write its name holds all the same
  out.holder.folder = j.value("folder", "");
  out.holder.command = j.value("command", "");
  out.holder.host = j.value("host", "");
  out.holder.pid = j.value("pid", std::int64_t{0});
  out.holder.since_ms = j.value("since_ms", std::int64_t{0});
  if (const auto line = j.find("line"); line != j.end() && line->is_array())
    for (const auto& one : *line)
      if (one.is_string()) out.line.push_back(one.get<std::string>());
  return out;
}

// Every lock that somebody holds now.
std::vector<HeldLock> held_locks(const std::string& locks) {
  std::vector<HeldLock> out;
  RealFileSystem fs;
  const auto names = fs.list(locks);
  if (!names) return out;
  for (const std::string& name : *names) {
    if (!name.ends_with(".lock")) continue;
    const int fd = ::open((locks + "/" + name).c_str(), O_RDONLY | O_CLOEXEC | O_NOFOLLOW);
    if (fd < 0) continue;
    if (::flock(fd, LOCK_SH | LOCK_NB) != 0 && errno == EWOULDBLOCK)
      out.push_back(read_lock(fd, name.substr(0, name.size() - 5)));
    ::close(fd);
  }
  return out;
}

bool contains(const std::vector<std::string>& all, const std::string& one) {
  return std::find(all.begin(), all.end(), one) != all.end();
}

std::optional<Holder> overlapping(const std::vector<std::string>& line, const std::string& locks) {
  if (line.empty()) return std::nullopt;
  for (const HeldLock& l : held_locks(locks))
    if (contains(line, l.id) || contains(l.line, line.front())) return l.holder;
  return std::nullopt;
}

std::string host_name() {
  std::array<char, 256> name{};
  return ::gethostname(name.data(), name.size() - 1) == 0 ? name.data() : "unknown";
}

Status write_all(int fd, const std::string& text, const std::string& path) {
  std::size_t at = 0;
  if (::ftruncate(fd, 0) != 0) return refused(path);
  while (at < text.size()) {
    const auto n = ::pwrite(fd, text.data() + at, text.size() - at, static_cast<off_t>(at));
    if (n < 0 && errno == EINTR) continue;
    if (n <= 0) return refused(path);
    at += static_cast<std::size_t>(n);
  }
  return Done{};
}

}  // namespace

std::string Holder::text() const {
  if (pid == 0) return "another burstsieve";
  const auto seconds = static_cast<std::time_t>(since_ms / 1000);
  std::tm parts{};
  char when[32] = "?";
  if (gmtime_r(&seconds, &parts)) std::strftime(when, sizeof when, "%Y-%m-%d %H:%M:%S UTC", &parts);
  return fmt::format("burstsieve {}, process {} on host {}, since {}", one_line(command), pid, one_line(host),
                     when);
}

Result<FolderLock> FolderLock::take(const std::string& folder, const std::string& command,
                                    const std::string& state_folder, Clock& clock) {
  const auto real = real_folder(folder);
  if (!real) return real.error();
  const std::string locks = state_folder + "/locks";
  RealFileSystem fs;
  if (auto s = make_folders(fs, locks, 0700); !s) return s.error();
  const Guard guard(locks);
  if (!guard.held()) return refused(locks + "/guard");
  const std::vector<std::string> line = line_of(*real);
  if (line.empty()) return refused(*real);
  if (const auto other = overlapping(line, locks)) {
    const std::string where =
        other->folder.empty() || other->folder == one_line(*real) ? "" : " (" + other->folder + ")";
    const std::string what = other->command == "review" ? "is already being reviewed" : "is already watched";
    return Error{Cause::unsupported, folder, what + where + " by " + other->text()};
  }
  FolderLock out;
  out.folder_ = *real;
  out.id_ = line.front();
  out.state_ = state_folder;
  out.file_ = locks + "/" + out.id_ + ".lock";
  out.fd_ = ::open(out.file_.c_str(), O_RDWR | O_CREAT | O_CLOEXEC | O_NOFOLLOW, 0600);
  if (out.fd_ < 0) return refused(out.file_);
  if (::flock(out.fd_, LOCK_EX | LOCK_NB) != 0) {
    const Error e = refused(out.file_);
    out.release();
    return e;
  }
  const nlohmann::json j{{"folder", one_line(*real)}, {"command", command},         {"host", host_name()},
                         {"pid", ::getpid()},         {"since_ms", clock.now_ms()}, {"line", line}};
  if (auto s = write_all(out.fd_, j.dump() + "\n", out.file_); !s) return s.error();
  return out;
}

std::optional<Holder> FolderLock::holder_of(const std::string& folder, const std::string& state_folder) {
  const auto real = real_folder(folder);
  if (!real) return std::nullopt;
  const std::string locks = state_folder + "/locks";
  if (::access(locks.c_str(), R_OK | X_OK) != 0) return std::nullopt;
  const Guard guard(locks);
  return overlapping(line_of(*real), locks);
}

FolderLock::FolderLock(FolderLock&& other) noexcept
    : fd_(std::exchange(other.fd_, -1)),
      folder_(std::move(other.folder_)),
      file_(std::move(other.file_)),
      state_(std::move(other.state_)),
      id_(std::move(other.id_)) {}

FolderLock& FolderLock::operator=(FolderLock&& other) noexcept {
  if (this == &other) return *this;
  release();
  fd_ = std::exchange(other.fd_, -1);
  folder_ = std::move(other.folder_);
  file_ = std::move(other.file_);
  state_ = std::move(other.state_);
  id_ = std::move(other.id_);
  return *this;
}

FolderLock::~FolderLock() {
  release();
}

void FolderLock::release() {
  if (fd_ < 0) return;
  {
    const Guard guard(state_ + "/locks");
    if (guard.held()) ::unlink(file_.c_str());  // nobody opens it meanwhile
  }
  ::close(fd_);
  fd_ = -1;
}

bool FolderLock::still_there() const {
  return fd_ >= 0 && identity(folder_) == id_;
}

}  // namespace burstsieve::watch
