// What the files of this module ask of paths.
#pragma once
#include <cerrno>
#include <cstring>
#include <string>

#include "burstsieve/base/result.h"

namespace burstsieve::watch {

// True for the folder itself and everything in it; both are absolute.
inline bool below(const std::string& path, const std::string& folder) {
  return path == folder || (path.size() > folder.size() && path.starts_with(folder) &&
                            (folder.ends_with('/') || path[folder.size()] == '/'));
}

// The system call before it failed on `path`: errno in words.
inline Error refused(const std::string& path) {
  return {Cause::io, path, std::strerror(errno)};
}

}  // namespace burstsieve::watch
