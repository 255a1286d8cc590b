#include "identify.h"

#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cerrno>
#include <cstring>

#include "burstsieve/base/bytes.h"
#include "burstsieve/base/file_system.h"
#include "burstsieve/base/fingerprint.h"
#include "burstsieve/decode/sniff.h"

namespace burstsieve::pipeline {
namespace {

class OpenFile {
 public:
  // Not blocking: a pipe may have taken the place of the file that was seen there.
  explicit OpenFile(const std::string& path)
      : fd_(::open(path.c_str(), O_RDONLY | O_CLOEXEC | O_NOCTTY | O_NONBLOCK)) {}
  ~OpenFile() {
    if (fd_ >= 0) ::close(fd_);
  }
  OpenFile(const OpenFile&) = delete;
  OpenFile& operator=(const OpenFile&) = delete;

  bool ok() const { return fd_ >= 0; }
  bool regular() const {
    struct stat st {};
    return ::fstat(fd_, &st) == 0 && S_ISREG(st.st_mode);
  }
  // Fewer bytes at the end of the file; nothing on an error.
  std::optional<ByteBuffer> read_at(std::uint64_t offset, std::size_t count) const {
    ByteBuffer out(count);
    std::size_t have = 0;
    while (have < count) {
      const ssize_t n = ::pread(fd_, out.data() + have, count - have, static_cast<off_t>(offset + have));
      if (n < 0 && errno == EINTR) continue;
      if (n < 0) return std::nullopt;
      if (n == 0) break;
      have += static_cast<std::size_t>(n);
    }
    out.resize(have);
    return out;
  }

 private:
  int fd_;
};

}  // namespace

Result<Identity> identify_file(const Candidate& file, const Limits& limits) {
  const auto system_error = [&] { return Error{Cause::io, file.path, std::strerror(errno)}; };
  const OpenFile in(file.path);
  if (!in.ok()) return system_error();
  if (!in.regular()) return Identity{};
  const auto head = in.read_at(0, kFingerprintEnd);
  if (!head) return system_error();
  const auto sniffed = decode::sniff(*head, leaf_of(file.path));
  if (!sniffed) return Identity{};
  if (file.size > limits.max_file_bytes)
    return Error{Cause::limit, file.path,
                 "larger than " + std::to_string(limits.max_file_bytes >> 20) + " MiB"};
  const auto tail =
      in.read_at(file.size > kFingerprintEnd ? file.size - kFingerprintEnd : 0, kFingerprintEnd);
  if (!tail) return system_error();
  return Identity{sniffed->kind, sniffed->format, fingerprint_of(*head, *tail)};
}

}  // namespace burstsieve::pipeline
