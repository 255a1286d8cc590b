// Which sidecar belongs to which photograph.
//
// Two names are in use: NAME.xmp (XMP Specification 2005, p. 36: same name, suffix .xmp) and NAME.EXT.xmp,
// which keeps a raw and a JPEG of the same name apart. One that exists is respected, whatever the option.
#pragma once
#include <map>
#include <string>
#include <utility>
#include <vector>

#include "burstsieve/base/file_system.h"
#include "burstsieve/base/result.h"
#include "burstsieve/model/frame.h"

namespace burstsieve {

enum class SidecarNaming {
  as_found,        // as most sidecars of that folder are named; with_extension when none says
  with_extension,  // NAME.EXT.xmp, unless NAME.xmp is the only one that exists
  plain,           // NAME.xmp, unless NAME.EXT.xmp is the only one that exists
};

enum class PairSharing {
  by_raw,  // a raw+JPEG pair has one sidecar, the raw's
  each,    // each file its own; the JPEG's is always NAME.JPG.xmp
};

struct SidecarOptions {
  SidecarNaming naming = SidecarNaming::as_found;
  PairSharing pairs = PairSharing::by_raw;
  // Where sidecars go, mirroring the folders below `root`; empty: beside the photographs.
  std::string folder;
  // The folder the photographs' paths start with; needed only with `folder`.
  std::string root;
};

struct SidecarPlace {
  std::string path;  // the sidecar to read and write; may not exist yet
  // Further sidecars of the same frame that exist: never written, but a person's word there counts.
  std::vector<std::string> others;
  bool operator==(const SidecarPlace&) const = default;
};

// How the sidecars of a folder are named; each folder is listed once, so keep one of these for a run.
//
// Sidecars whose photograph is gone say nothing, nor do those that had no choice: of a JPEG beside its raw
// (by PairSharing::each always NAME.JPG.xmp), of a name without extension or of more than 200 bytes. New
// sidecars follow the majority and so never change it: the answer does not depend on how much of a run is
// done.
class FolderNamings {
 public:
  // with_extension or plain. `sidecars` and `photographs`: folders, the same one or a mirror and what it
  // mirrors; a mirror that says nothing takes after the photographs' folder. Cause::io when one exists and
  // can't be listed.
  Result<SidecarNaming> of(const std::string& sidecars, const std::string& photographs, FileSystem& fs);

 private:
  std::map<std::pair<std::string, std::string>, SidecarNaming> known_;
};

// One place per sidecar the frame gets: one, or two for a pair with PairSharing::each. The suffix of an
// existing sidecar may be .xmp, .XMP or .Xmp; a folder of such a name is none. A name that NAME.EXT.xmp would
// make longer than 255 bytes becomes NAME.xmp. Only looks; creates nothing. Cause::unsupported when, with
// `folder`, the photograph is not below `root` or its path has "..", or when its name leaves no room for any
// suffix; Cause::io when a folder can't be looked at.
Result<std::vector<SidecarPlace>> sidecar_places(const Frame& frame, const SidecarOptions& options,
                                                 FileSystem& fs, FolderNamings& namings);
// The same for a single frame.
Result<std::vector<SidecarPlace>> sidecar_places(const Frame& frame, const SidecarOptions& options,
                                                 FileSystem& fs);

}  // namespace burstsieve
