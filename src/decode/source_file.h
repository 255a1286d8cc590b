// An input file, read by offset. Never mapped: a card pulled out while a page of it is being touched would
// raise SIGBUS instead of returning an error.
#pragma once
#include <cstdint>
#include <opencv2/core.hpp>
#include <span>
#include <string>

#include "burstsieve/base/bytes.h"
#include "burstsieve/base/limits.h"
#include "burstsieve/base/result.h"

namespace burstsieve::decode {

class SourceFile {
 public:
  // Errors: io (the system's word, or not a regular file), limit (larger than max_file_bytes).
  static Result<SourceFile> open(const std::string& path, const Limits& limits);

  SourceFile(SourceFile&& other) noexcept;
  SourceFile& operator=(SourceFile&&) = delete;
  ~SourceFile();

  const std::string& path() const { return path_; }
  std::uint64_t size() const { return size_; }

  // Fills `out` from `offset`. Errors: io, truncated (fewer bytes there).
  Status read(std::uint64_t offset, std::span<std::uint8_t> out) const;
  // `size` bytes from `offset`; checked against the size of the file before memory is taken.
  Result<ByteBuffer> bytes(std::uint64_t offset, std::uint64_t size) const;

 private:
  SourceFile(int fd, std::string path, std::uint64_t size) : fd_(fd), path_(std::move(path)), size_(size) {}
  int fd_;
  std::string path_;
  std::uint64_t size_;
};

// Bytes in a buffer of the pool: reading 8 MB into fresh memory costs as much again in page faults.
class PooledBytes {
 public:
  static Result<PooledBytes> read(const SourceFile& file, std::uint64_t offset, std::uint64_t size);
  Bytes view() const { return {buffer_.data, static_cast<std::size_t>(size_)}; }

 private:
  cv::Mat buffer_;
  std::uint64_t size_ = 0;
};

}  // namespace burstsieve::decode
