#include <cstdlib>

#include "burstsieve/catalog/catalog.h"

namespace burstsieve {

Result<std::string> default_catalog_path() {
  const char* data = std::getenv("XDG_DATA_HOME");
  if (data != nullptr && data[0] == '/') return std::string(data) + "/burstsieve/catalog.sqlite";
  const char* home = std::getenv("HOME");
  if (home != nullptr && home[0] == '/') return std::string(home) + "/.local/share/burstsieve/catalog.sqlite";
  return Error{Cause::io, {}, "no place for the catalogue: neither HOME nor XDG_DATA_HOME is set"};
}

}  // namespace burstsieve
