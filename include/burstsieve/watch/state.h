// Where a watcher keeps what must outlive it: never in the folders it watches.
#pragma once
#include <string>

#include "burstsieve/base/result.h"

namespace burstsieve::watch {

// $XDG_STATE_HOME/burstsieve or ~/.local/state/burstsieve (XDG Base Directory Specification 0.8; a relative
// path there is ignored). Cause::io when neither variable helps.
Result<std::string> state_folder();

// Absolute, links resolved. Cause::io when it is no folder that can be reached.
Result<std::string> real_folder(const std::string& path);

}  // namespace burstsieve::watch
