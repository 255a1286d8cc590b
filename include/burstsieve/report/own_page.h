// Whether a file may be replaced: pages of ours carry a mark near their beginning.
#pragma once
#include <string>

#include "burstsieve/base/bytes.h"
#include "burstsieve/base/file_system.h"

namespace burstsieve::report {

// True of HTML that burstsieve wrote and whose title begins with `title` ("Contact sheet: "; empty: any).
bool is_own_page(Bytes bytes, const std::string& title);

// Writes a page under `path`. Cause::unsupported, and nothing changed, when something is there that is no
// page of ours with such a title: a slip of the hand must not cost a photograph.
Status write_own_page(FileSystem& fs, const std::string& path, const std::string& page,
                      const std::string& title);

}  // namespace burstsieve::report
