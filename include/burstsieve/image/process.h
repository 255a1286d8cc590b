#pragma once

namespace burstsieve::image {

// Once per process, before any pixels move:
// - the pixel library starts no threads of its own inside ours: they would fight over the cores;
// - memory that a frame gives back stays with the process for the next frame: handing it to the system and
// taking it
//   again costs more than the arithmetic on it (a tenth of the time per frame, measured by tools/bench).
void prepare_process();

}  // namespace burstsieve::image
