#pragma once
#include "burstsieve/pipeline/engine.h"

namespace burstsieve::pipeline {

// Opens one file for reading and looks at both its ends.
Result<Identity> identify_file(const Candidate& file, const Limits& limits);

}  // namespace burstsieve::pipeline
