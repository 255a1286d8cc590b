// One look at the watched folders: names, sizes and times. No file is opened.
#pragma once
#include <cstdint>
#include <string>
#include <vector>

#include "burstsieve/base/result.h"

namespace burstsieve::watch {

struct FileSeen {
  std::string path;
  std::uint64_t size = 0;  // bytes
  std::int64_t mtime_ns =
      0;  // nanoseconds since 1970, as the file system says: not to be compared with a clock
  bool operator==(const FileSeen&) const = default;
};

struct Listing {
  std::vector<FileSeen> files;       // sorted by path; without sidecars and hidden names
  std::vector<std::string> folders;  // that could be read
  std::vector<Error> errors;         // folders that could not: what is below them is unknown, not gone
};

class Lister {
 public:
  Lister() = default;
  Lister(const Lister&) = delete;
  Lister& operator=(const Lister&) = delete;
  virtual ~Lister() = default;
  virtual Listing list(const std::vector<std::string>& places) = 0;
};

// Follows pipeline::scan()'s rules: links are followed, a file or folder reached twice counts once, folders
// are walked in order of their names, names beginning with a dot are passed over.
class RealLister final : public Lister {
 public:
  explicit RealLister(int max_depth) : max_depth_(max_depth) {}
  Listing list(const std::vector<std::string>& places) override;

 private:
  int max_depth_;
};

// A name that programs give a file which they have not finished: .part, .tmp, .crdownload, NAME~, ...
bool is_temporary_name(const std::string& path);

}  // namespace burstsieve::watch
