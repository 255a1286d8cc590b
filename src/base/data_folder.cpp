#include "burstsieve/base/data_folder.h"

#include <cstdlib>

namespace burstsieve {

std::optional<std::string> data_folder() {
  const char* data = std::getenv("XDG_DATA_HOME");
  if (data != nullptr && data[0] == '/') return std::string(data) + "/burstsieve";
  const char* home = std::getenv("HOME");
  if (home != nullptr && home[0] == '/') return std::string(home) + "/.local/share/burstsieve";
  return std::nullopt;
}

}  // namespace burstsieve
