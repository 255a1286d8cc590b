// Sidecars on disk: read, merge, replace durably. Photographs are never opened.
#pragma once
#include <optional>
#include <string>

#include "burstsieve/base/file_system.h"
#include "burstsieve/base/result.h"
#include "burstsieve/sidecar/merge.h"
#include "burstsieve/sidecar/naming.h"

namespace burstsieve {

struct SidecarOutcome {
  SidecarChange change = SidecarChange::unchanged;
  std::string path;                  // the sidecar it is about; for `human` the one with the person's word
  std::optional<HumanRating> human;  // for SidecarChange::human
};

// What write_sidecar() is going to do, so that a caller can note it down before it happens.
struct SidecarPlan {
  SidecarOutcome outcome;
  std::optional<FileStat> seen;  // what was at outcome.path; nothing when there was no file
  ByteBuffer before;             // its bytes, as they were read
  ByteBuffer after;              // the bytes to put there; empty unless writes()
  bool writes() const {
    return outcome.change == SidecarChange::created || outcome.change == SidecarChange::updated;
  }
};

// Reads and merges; writes and makes nothing. Errors as write_sidecar().
Result<SidecarPlan> plan_sidecar(FileSystem& fs, const SidecarPlace& place, const SidecarEntry& entry);

// Does it; a plan that writes nothing succeeds. Errors as write_sidecar(): one that was changed since it was
// planned is left alone.
Status apply_plan(FileSystem& fs, const SidecarPlan& plan);

// plan_sidecar(), then apply_plan(): merges `entry` into the sidecar at place.path, making its folder when
// that is missing. A person's word in that sidecar or in one of place.others stops it. With dry_run nothing
// is written or made; the outcome is what would happen. Errors (the file is then as it was): those of
// merge(); Cause::unsupported for a symbolic link or no regular file; Cause::io for a write-protected
// sidecar, a folder that can't be written, or a sidecar that another program changed between reading and
// replacing. Damage in one of place.others is an error too: a person's word may be in it.
Result<SidecarOutcome> write_sidecar(FileSystem& fs, const SidecarPlace& place, const SidecarEntry& entry,
                                     bool dry_run);

// The rating a person set, or cleared after we had set one, in any of the place's sidecars; nothing when
// there is none. Errors as write_sidecar().
Result<std::optional<HumanRating>> read_override(FileSystem& fs, const SidecarPlace& place);

}  // namespace burstsieve
