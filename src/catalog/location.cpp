#include "burstsieve/base/data_folder.h"
#include "burstsieve/catalog/catalog.h"

namespace burstsieve {

Result<std::string> default_catalog_path() {
  if (const auto folder = data_folder()) return *folder + "/catalog.sqlite";
  return Error{Cause::io, {}, "no place for the catalogue: neither HOME nor XDG_DATA_HOME is set"};
}

}  // namespace burstsieve
