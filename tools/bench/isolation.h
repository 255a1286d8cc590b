// What it costs to open photographs in a process of their own.
#pragma once
#include <string>
#include <vector>

#include "burstsieve/base/result.h"
#include "burstsieve/model/frame.h"

namespace burstsieve::bench {

struct IsolationCost {
  double here_ms = 0, apart_ms = 0;  // CPU per frame, all processes, start and end of the engine included
};

// Measures the files as one burst of `frames` frames (they repeat), in this process and in an engine process,
// taking turns; medians over `rounds`. program: as EngineOptions::program.
Result<IsolationCost> isolation_cost(const std::vector<FileRef>& files, int frames, int rounds,
                                     const std::string& program);

}  // namespace burstsieve::bench
