// Replacing a file so that whoever looks, at whatever moment, sees the old contents or the new, whole.
//
// temporary file in the same folder -> write -> fsync -> read back and verify -> rename -> fsync the folder.
// (The order that survives the crashes catalogued by Pillai et al., "All File Systems Are Not Created Equal",
// OSDI 2014.)
#pragma once
#include <functional>
#include <optional>
#include <string>

#include "burstsieve/base/file_system.h"

namespace burstsieve {

// Looks at the bytes read back from the temporary file; an error stops the replacement.
using VerifyBytes = std::function<Status(Bytes)>;

// Puts `bytes` at `path`. `seen` is what stat(path) said when the caller read the old contents: when
// something else is there now, another program has been at the file and it is left alone (Cause::io). A
// replaced file keeps its permissions, and its owner where the system allows; extended attributes and hard
// links are not kept. On any failure the temporary file is removed (a crash may leave one, named
// ".burstsieve-*.tmp": see tidy_folder()). The temporary name is short whatever the length of the name it
// stands for.
Status durable_replace(FileSystem& fs, const std::string& path, Bytes bytes,
                       const std::optional<FileStat>& seen, const VerifyBytes& verify = {});

// Ends what a killed durable_replace() began in this folder: removes the temporary files that no living
// process holds, and syncs, so that a name it had given is on the disk as well. A folder that is not there is
// in order. Costs one listing and one sync. Cause::io when a step fails; the others are done all the same.
Status tidy_folder(FileSystem& fs, const std::string& folder);

}  // namespace burstsieve
