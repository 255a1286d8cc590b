#include "burstsieve/sidecar/restore.h"

#include <algorithm>

#include "burstsieve/base/durable.h"
#include "burstsieve/base/fingerprint.h"
#include "burstsieve/sidecar/merge.h"

namespace burstsieve {

namespace {

Status remove_durably(FileSystem& fs, const std::string& path, const FileStat& seen) {
  // As late as can be: between this look and the removal lie microseconds, as for a replacement.
  const auto now = fs.stat(path);
  if (!now) return now.error();
  if (*now != seen) return Error{Cause::io, path, "was changed by another program meanwhile, left alone"};
  if (auto s = fs.remove(path); !s) return s.error();
  return fs.sync_folder(folder_of(path));
}

}  // namespace

std::uint64_t contents_sum(Bytes bytes) {
  return fingerprint_of({}, bytes);
}

Result<Restored> restore_sidecar(FileSystem& fs, const std::string& path, const std::optional<Bytes>& before,
                                 std::uint64_t ours, bool dry_run) {
  const auto seen = fs.stat(path);
  if (!seen) return seen.error();
  if (!*seen) return before ? Restored::changed_since : Restored::already;
  if ((*seen)->type != FileType::regular)
    return Error{Cause::unsupported, path, "is not a regular file any more, left alone"};
  const auto now = fs.read_file(path, kMaxSidecarBytes);
  if (!now) return now.error();
  if (before && std::equal(now->begin(), now->end(), before->begin(), before->end()))
    return Restored::already;
  if (contents_sum(*now) != ours) return Restored::changed_since;
  if (((*seen)->mode & 0222) == 0) return Error{Cause::io, path, "is write-protected, left alone"};
  const Restored outcome = before ? Restored::restored : Restored::removed;
  if (dry_run) return outcome;
  const Status done = before ? durable_replace(fs, path, *before, *seen) : remove_durably(fs, path, **seen);
  if (!done) return done.error();
  return outcome;
}

}  // namespace burstsieve
