// Opening a catalogue file that is ours, and its tables.
#pragma once
#include <memory>
#include <string>

#include "database.h"

namespace burstsieve::catalog {

Result<std::unique_ptr<Database>> open_catalog(const std::string& path);

}  // namespace burstsieve::catalog
