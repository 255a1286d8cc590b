// Where what belongs to the user is kept.
#pragma once
#include <optional>
#include <string>

namespace burstsieve {

// $XDG_DATA_HOME/burstsieve, or ~/.local/share/burstsieve (XDG Base Directory Specification 0.8: a relative
// $XDG_DATA_HOME is ignored). Nothing when neither variable helps. The folder need not exist.
std::optional<std::string> data_folder();

}  // namespace burstsieve
