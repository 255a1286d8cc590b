#pragma once

namespace burstsieve {

// Release, as printed by --version and recorded in sidecars.
inline constexpr const char* kVersion = "0.1.0";

// Changes whenever a stored measure would come out differently; the catalogue recomputes frames of another
// one.
inline constexpr int kEngineVersion = 6;

}  // namespace burstsieve
