// What the engine process gives up before it opens the first photograph.
#pragma once
#include <cstdint>

#include "burstsieve/base/result.h"

namespace burstsieve::pipeline {

// Processor time is not limited (an archive takes hours); memory, files written and core dumps are.
// memory_bytes: address space of the whole process, 0 for no limit. Cause::io when the system refuses.
Status lower_limits(std::uint64_t memory_bytes);

// A filter in the kernel (seccomp, Linux) that refuses with EPERM every call but those that decoding needs:
// no socket, no new program or process, no file opened for writing, none created, renamed, removed or
// changed, no signal to others, no memory made executable. Reading files and starting threads stay. Can't be
// taken back. Cause::unsupported when the kernel has no such filter or refuses it.
Status enter_sandbox();

}  // namespace burstsieve::pipeline
