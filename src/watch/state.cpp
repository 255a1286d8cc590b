#include "burstsieve/watch/state.h"

#include <sys/stat.h>

#include <cerrno>
#include <climits>
#include <cstdlib>
#include <cstring>
#include <memory>

namespace burstsieve::watch {

Result<std::string> state_folder() {
  const char* state = std::getenv("XDG_STATE_HOME");
  if (state != nullptr && state[0] == '/') return std::string(state) + "/burstsieve";
  const char* home = std::getenv("HOME");
  if (home != nullptr && home[0] == '/') return std::string(home) + "/.local/state/burstsieve";
  return Error{Cause::io, {}, "no place for the watcher's state: neither HOME nor XDG_STATE_HOME is set"};
}

Result<std::string> real_folder(const std::string& path) {
  struct Free {
    void operator()(char* p) const { std::free(p); }
  };
  const std::unique_ptr<char, Free> real(::realpath(path.c_str(), nullptr));
  struct stat st {};
  if (!real || ::stat(real.get(), &st) != 0) return Error{Cause::io, path, std::strerror(errno)};
  if (!S_ISDIR(st.st_mode)) return Error{Cause::unsupported, path, "is not a folder"};
  return std::string(real.get());
}

}  // namespace burstsieve::watch
