#pragma once

namespace burstsieve::image {

// The pixel library must not start threads of its own inside ours: they would fight over the cores. Call once per
// process before any pixels move.
void use_callers_thread_only();

}  // namespace burstsieve::image
