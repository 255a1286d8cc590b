// Moving files that belong together: all of them, or none, and never one without a whole copy somewhere.
//
// On one file system a file is renamed. Across file systems it is copied to a temporary file in the target
// folder, synced, read back from the device and compared with the checksum; then it gets its name. Only when
// every file of the group stands at its new place, on the disk, are the old ones removed, and each only if it
// is still the file that was copied. Whatever fails before that is taken back.
//
// The order: where all can be renamed, photographs go first and sidecars last; across file systems sidecars
// arrive first and leave last. So a photograph at the old place always has its sidecars beside it.
#pragma once
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "burstsieve/base/file_system.h"

namespace burstsieve {

struct MovingFile {
  std::string from, to;
  // Folders that must be there: missing folders are made below them only. A card that is not mounted must not
  // be taken for an empty folder.
  std::string from_root, to_root;
  std::uint64_t size = 0;        // bytes
  std::int64_t mtime_ns = 0;     // a copy gets this time of change where the file system can hold it
  std::uint32_t mode = 0;        // and these permissions, likewise
  std::string checksum;          // Checksum::text() of the contents
  bool sidecar = false;          // belongs to the photographs of the group
  std::string temporary;         // name (no path) of a copy being made; nobody else's
  std::optional<FileStat> seen;  // of `from`, when the checksum was taken a moment ago; for move_group()
};

enum class GroupPlace {
  there,    // every file is at `to`, and none at `from`
  here,     // every file is at `from`; what could not be taken back from `to` is a second copy, and told
  between,  // neither could be reached: nothing is lost, take it back later
};

struct GroupMove {
  GroupPlace place = GroupPlace::between;
  std::vector<Error> errors;  // why it is not there, and what is left over; empty for `there`
};

// Every file must be at `from` as `seen`, and nothing may stand at `to`; else nothing happens.
GroupMove move_group(FileSystem& fs, std::span<const MovingFile> files);

// Ends a move_group() that stopped anywhere, or never began: `here`, or `between` when a step fails. What
// stands at `to` goes back, changed or not; where both names hold the planned contents `to` is removed, where
// they differ both stay. Names that are gone from both places are told.
GroupMove take_back(FileSystem& fs, std::span<const MovingFile> files);

}  // namespace burstsieve
