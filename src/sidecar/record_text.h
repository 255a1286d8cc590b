// The block of our own properties, as XML text.
#pragma once
#include <string>
#include <string_view>

#include "burstsieve/sidecar/merge.h"

namespace burstsieve::sidecar {

// An rdf:Description with everything in `entry`, and xmp:Rating when the entry has a rating. Deterministic.
// about: the raw value of rdf:about shared by the file's descriptions. indent: white space before its first
// line, lines: "\n", "\r\n" or "\r". declare_rdf: the file binds "rdf" to nothing or to something else.
std::string record_text(const SidecarEntry& entry, std::string_view about, std::string_view indent,
                        std::string_view lines, bool declare_rdf);

// A whole sidecar with nothing else in it.
std::string fresh_sidecar(const SidecarEntry& entry);

}  // namespace burstsieve::sidecar
