#include "burstsieve/base/result.h"

#include "burstsieve/base/text.h"

namespace burstsieve {

const char* name_of(Cause cause) {
  switch (cause) {
    case Cause::io:
      return "io";
    case Cause::truncated:
      return "truncated";
    case Cause::corrupt:
      return "corrupt";
    case Cause::unsupported:
      return "unsupported";
    case Cause::limit:
      return "limit";
    case Cause::memory:
      return "memory";
  }
  return "unknown";
}

std::string Error::line() const {
  return file.empty() ? one_line(text) : one_line(file) + ": " + one_line(text);
}

}  // namespace burstsieve
