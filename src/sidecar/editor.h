// Our record in the text of a sidecar that others wrote.
#pragma once
#include <string>

#include "burstsieve/sidecar/merge.h"
#include "packet.h"

namespace burstsieve::sidecar {

// The packet's text without our properties and xmp:Rating, with the record of `entry` as the last
// description; every other byte stays.
std::string with_record(const Packet& packet, const SidecarEntry& entry);

}  // namespace burstsieve::sidecar
