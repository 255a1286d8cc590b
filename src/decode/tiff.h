// The directories of a TIFF-like file (TIFF 6.0 section 2; DNG 1.4; the raws built on it), values fetched
// when asked for.
#pragma once
#include <cstdint>
#include <optional>
#include <vector>

#include "burstsieve/base/bytes.h"
#include "burstsieve/base/result.h"
#include "source_file.h"

namespace burstsieve::decode {

struct TiffField {
  std::uint16_t tag = 0;
  std::uint16_t type = 0;
  std::uint32_t count = 0;
  std::uint64_t where = 0;  // of the value, in the file
};

struct TiffDirectory {
  std::vector<TiffField> fields;
  const TiffField* find(std::uint16_t tag) const;
};

class TiffFile {
 public:
  // Walks the main chain and every SubIFD; a directory met twice is not followed again, a broken one ends its
  // own branch. Errors: unsupported (not a TIFF), truncated. `file` must outlive the result.
  static Result<TiffFile> open(const SourceFile& file);

  ByteOrder order() const { return order_; }
  const std::vector<TiffDirectory>& directories() const { return directories_; }  // the main one first

  // All values as numbers, or nothing: absent, more than `most`, another type, outside the file, x/0.
  std::optional<std::vector<double>> numbers(const TiffDirectory& dir, std::uint16_t tag,
                                             std::uint32_t most) const;
  // The first value when there is exactly one, as a whole number.
  std::optional<std::uint64_t> whole(const TiffDirectory& dir, std::uint16_t tag) const;

 private:
  explicit TiffFile(const SourceFile& file) : file_(&file) {}
  std::uint32_t read_directory(std::uint64_t at);
  const SourceFile* file_;
  ByteOrder order_ = ByteOrder::little;
  std::vector<TiffDirectory> directories_;
};

}  // namespace burstsieve::decode
