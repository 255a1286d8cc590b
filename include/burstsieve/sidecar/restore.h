// Taking a change of a sidecar back.
#pragma once
#include <cstdint>
#include <optional>
#include <string>

#include "burstsieve/base/bytes.h"
#include "burstsieve/base/file_system.h"
#include "burstsieve/base/result.h"

namespace burstsieve {

enum class Restored {
  restored,       // the bytes before stand there again
  removed,        // there was no file before and there is none now
  already,        // it was as before already
  changed_since,  // neither ours nor as before: somebody changed it, left alone
};

// By which undo knows the bytes we wrote: XXH64.
std::uint64_t contents_sum(Bytes bytes);

// Puts `before` back at `path` (nothing: there was no file), durably, if the bytes there now have the
// checksum `ours`. A file that we created is removed only then: the one deletion that burstsieve does, of a
// file it wrote itself and nobody changed. Permissions stay, and the owner where the system allows. With
// dry_run only looks; the outcome is what would happen.
// Errors (the file is then as it was): Cause::unsupported for a symbolic link or no regular file;
// Cause::limit for more than kMaxSidecarBytes; Cause::io for a write-protected file, or when the system
// refuses.
Result<Restored> restore_sidecar(FileSystem& fs, const std::string& path, const std::optional<Bytes>& before,
                                 std::uint64_t ours, bool dry_run);

}  // namespace burstsieve
