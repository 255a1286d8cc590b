#include "burstsieve/pipeline/scan.h"

#include <dirent.h>
#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <cstring>
#include <memory>
#include <set>
#include <utility>

#include "burstsieve/base/file_system.h"
#include "burstsieve/base/fingerprint.h"
#include "burstsieve/base/text.h"
#include "burstsieve/decode/sniff.h"

namespace burstsieve::pipeline {
namespace {

Error system_error(const std::string& path) {
  return {Cause::io, path, std::strerror(errno)};
}

std::int64_t changed_ns(const struct stat& st) {
  return static_cast<std::int64_t>(st.st_mtim.tv_sec) * 1'000'000'000 + st.st_mtim.tv_nsec;
}

class Walk {
 public:
  Walk(const Limits& limits, const FileReady& ready) : limits_(limits), ready_(ready) {}

  // `wanted`: the user named it, so its absence is an error and a leading dot is no reason to pass it over.
  void visit(const std::string& path, int depth, bool wanted) {
    if (full_) return;
    if (!wanted && leaf_of(path).starts_with('.')) {
      ++out_.counts.hidden;
      return;
    }
    struct stat st {};
    if (::stat(path.c_str(), &st) != 0) {
      out_.errors.push_back(system_error(path));
      return;
    }
    if (!S_ISDIR(st.st_mode) && !S_ISREG(st.st_mode)) {
      ++out_.counts.other;  // pipes and devices must not even be opened
      return;
    }
    if (!seen_.emplace(st.st_dev, st.st_ino).second) {
      ++out_.counts.repeated;
      return;
    }
    if (S_ISDIR(st.st_mode))
      folder(path, depth);
    else
      file(path, st);
  }

  Result<Scan> finish() {
    if (full_)
      return Error{
          Cause::limit,
          {},
          "more than " + std::to_string(limits_.max_files) + " photographs in one run; name fewer folders"};
    std::sort(out_.files.begin(), out_.files.end(),
              [](const FileRef& a, const FileRef& b) { return a.path < b.path; });
    return std::move(out_);
  }

 private:
  void folder(const std::string& path, int depth) {
    if (depth > limits_.max_folder_depth) {
      out_.errors.push_back(
          {Cause::limit, path,
           "folders nested more than " + std::to_string(limits_.max_folder_depth) + " deep"});
      return;
    }
    ++out_.counts.folders;
    auto names = fs_.list(path);
    if (!names) {
      out_.errors.push_back(names.error());
      return;
    }
    for (const std::string& name : *names)
      visit(path == "/" ? "/" + name : path + "/" + name, depth + 1, false);
  }

  void file(const std::string& path, const struct stat& st) {
    if (lower_ascii(path).ends_with(".xmp")) {
      ++out_.counts.sidecars;
      return;
    }
    if (st.st_size == 0) {
      ++out_.counts.empty;
      return;
    }
    if (ready_ && !ready_(path, static_cast<std::uint64_t>(st.st_size), changed_ns(st))) {
      ++out_.counts.waiting;
      return;
    }
    const int fd = ::open(path.c_str(), O_RDONLY | O_CLOEXEC | O_NOCTTY);
    if (fd < 0) {
      out_.errors.push_back(system_error(path));
      return;
    }
    examine(path, st, fd);
    ::close(fd);
  }

  void examine(const std::string& path, const struct stat& st, int fd) {
    const auto size = static_cast<std::uint64_t>(st.st_size);
    auto head = read_at(fd, 0, kFingerprintEnd);
    if (!head) {
      out_.errors.push_back(system_error(path));
      return;
    }
    const auto sniffed = decode::sniff(*head, leaf_of(path));
    if (!sniffed) {
      ++out_.counts.other;
      return;
    }
    if (size > limits_.max_file_bytes) {
      out_.errors.push_back(
          {Cause::limit, path, "larger than " + std::to_string(limits_.max_file_bytes >> 20) + " MiB"});
      return;
    }
    const std::uint64_t tail_at = size > kFingerprintEnd ? size - kFingerprintEnd : 0;
    const auto tail = read_at(fd, tail_at, kFingerprintEnd);
    if (!tail) {
      out_.errors.push_back(system_error(path));
      return;
    }
    ++(sniffed->kind == FileKind::raw ? out_.counts.raw : out_.counts.jpeg);
    FileRef ref{path, sniffed->kind, sniffed->format, size, changed_ns(st), fingerprint_of(*head, *tail)};
    out_.files.push_back(std::move(ref));
    full_ = out_.files.size() > limits_.max_files;
  }

  static std::optional<ByteBuffer> read_at(int fd, std::uint64_t offset, std::size_t count) {
    ByteBuffer out(count);
    std::size_t have = 0;
    while (have < count) {
      const ssize_t n = ::pread(fd, out.data() + have, count - have, static_cast<off_t>(offset + have));
      if (n < 0 && errno == EINTR) continue;
      if (n < 0) return std::nullopt;
      if (n == 0) break;
      have += static_cast<std::size_t>(n);
    }
    out.resize(have);
    return out;
  }

  const Limits& limits_;
  const FileReady& ready_;
  RealFileSystem fs_;
  Scan out_;
  std::set<std::pair<dev_t, ino_t>> seen_;
  bool full_ = false;
};

}  // namespace

Result<Scan> scan(const std::vector<std::string>& places, const Limits& limits, const FileReady& ready) {
  Walk walk(limits, ready);
  std::size_t missing = 0;
  for (std::string place : places) {
    while (place.size() > 1 && place.back() == '/') place.pop_back();
    struct stat st {};
    if (::stat(place.c_str(), &st) != 0) {
      ++missing;
      if (missing == places.size()) return system_error(place);
    }
    walk.visit(place, 0, true);
  }
  return walk.finish();
}

}  // namespace burstsieve::pipeline
