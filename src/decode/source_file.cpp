#include "source_file.h"

#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <cstring>
#include <utility>

#include "burstsieve/image/buffer_pool.h"

namespace burstsieve::decode {
namespace {

std::string system_word(int error) {
  char buffer[128] = "unknown error";
  return strerror_r(error, buffer, sizeof buffer);  // the GNU one, thread-safe
}

constexpr int kRowBytes = 1 << 20;  // a buffer is a matrix of 1 MiB rows: cv::Mat counts in int

}  // namespace

Result<SourceFile> SourceFile::open(const std::string& path, const Limits& limits) {
  // O_NONBLOCK: a named pipe in the folder must not hang the run.
  const int fd = ::open(path.c_str(), O_RDONLY | O_CLOEXEC | O_NONBLOCK | O_NOCTTY);
  if (fd < 0) return Error{Cause::io, path, system_word(errno)};
  struct stat info {};
  if (::fstat(fd, &info) != 0) {
    const int error = errno;
    ::close(fd);
    return Error{Cause::io, path, system_word(error)};
  }
  SourceFile file(fd, path, static_cast<std::uint64_t>(info.st_size));
  if (!S_ISREG(info.st_mode)) return Error{Cause::io, path, "not a regular file"};
  if (file.size_ > limits.max_file_bytes) return Error{Cause::limit, path, "the file is too large"};
  return file;
}

SourceFile::SourceFile(SourceFile&& other) noexcept
    : fd_(std::exchange(other.fd_, -1)), path_(std::move(other.path_)), size_(other.size_) {}

SourceFile::~SourceFile() {
  if (fd_ >= 0) ::close(fd_);
}

Status SourceFile::read(std::uint64_t offset, std::span<std::uint8_t> out) const {
  if (offset > size_ || out.size() > size_ - offset)
    return Error{Cause::truncated, path_, "the file ends before its data"};
  std::size_t done = 0;
  while (done < out.size()) {
    const ssize_t got = ::pread(fd_, out.data() + done, out.size() - done, static_cast<off_t>(offset + done));
    if (got < 0 && errno == EINTR) continue;
    if (got < 0) return Error{Cause::io, path_, system_word(errno)};
    if (got == 0) return Error{Cause::truncated, path_, "the file became shorter while it was read"};
    done += static_cast<std::size_t>(got);
  }
  return Done{};
}

Result<ByteBuffer> SourceFile::bytes(std::uint64_t offset, std::uint64_t size) const {
  if (offset > size_ || size > size_ - offset)
    return Error{Cause::truncated, path_, "the file ends before its data"};
  ByteBuffer out(static_cast<std::size_t>(size));
  if (auto read_all = read(offset, out); !read_all) return read_all.error();
  return out;
}

Result<PooledBytes> PooledBytes::read(const SourceFile& file, std::uint64_t offset, std::uint64_t size) {
  if (offset > file.size() || size > file.size() - offset)
    return Error{Cause::truncated, file.path(), "the file ends before its data"};
  PooledBytes out;
  out.size_ = size;
  const auto rows = static_cast<int>(size / kRowBytes + 1);
  out.buffer_ = image::pooled(rows, kRowBytes, CV_8UC1);
  auto status = file.read(offset, {out.buffer_.data, static_cast<std::size_t>(size)});
  if (!status) return status.error();
  return out;
}

}  // namespace burstsieve::decode
