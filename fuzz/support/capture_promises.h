// What must be true of a Capture, whatever the file said.
#pragma once
#include "burstsieve/model/capture.h"

namespace burstsieve::fuzz {

void require_sound(const Capture& capture);

}  // namespace burstsieve::fuzz
