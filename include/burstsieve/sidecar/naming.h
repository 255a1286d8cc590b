// Which sidecar belongs to which photograph.
//
// Two names are in use: NAME.xmp (XMP Specification 2005, p. 36: same name, suffix .xmp) and NAME.EXT.xmp,
// which keeps a raw and a JPEG of the same name apart. One that exists is respected, whatever the option.
#pragma once
#include <string>
#include <vector>

#include "burstsieve/base/file_system.h"
#include "burstsieve/base/result.h"
#include "burstsieve/model/frame.h"

namespace burstsieve {

enum class SidecarNaming {
  with_extension,  // NAME.EXT.xmp, unless NAME.xmp is the only one that exists
  plain,           // NAME.xmp, unless NAME.EXT.xmp is the only one that exists
};

enum class PairSharing {
  by_raw,  // a raw+JPEG pair has one sidecar, the raw's
  each,    // each file its own; the JPEG's is always NAME.JPG.xmp
};

struct SidecarOptions {
  SidecarNaming naming = SidecarNaming::with_extension;
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

// One place per sidecar the frame gets: one, or two for a pair with PairSharing::each. The suffix of an
// existing sidecar may be .xmp, .XMP or .Xmp. Only looks; creates nothing. Cause::unsupported when, with
// `folder`, the photograph is not below `root` or its path has "..".
Result<std::vector<SidecarPlace>> sidecar_places(const Frame& frame, const SidecarOptions& options,
                                                 FileSystem& fs);

}  // namespace burstsieve
