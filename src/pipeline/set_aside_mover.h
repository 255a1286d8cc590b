// What the way to the folder and the way back share: the manifest, moving one frame, and telling.
#pragma once
#include <cstdint>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "burstsieve/base/move.h"
#include "burstsieve/pipeline/set_aside.h"
#include "set_aside_manifest.h"

namespace burstsieve::pipeline {

class Mover {
 public:
  Mover(std::string dir, Manifest& manifest, FileSystem& fs, Clock& clock, SetAsideListener& listener,
        SetAsideSummary& summary);

  // What an earlier run left half done is taken back, so that every frame is at one place or the other.
  // Frames half moved to the folder are then judged anew: their sidecars may say otherwise by now.
  Status settle();
  // False: it is where it was, or, told, between. An error: the manifest can't be written any more.
  Result<bool> move(std::int64_t id, std::vector<MovingFile> moves, AsideState there, AsideState here);
  void told(const AsideFrame& frame);
  void fail(const Error& error);
  // The folder that a file of the frame came from is not there.
  std::optional<Error> root_missing(const ManifestFrame& f);

 protected:
  std::string dir_;
  Manifest& manifest_;
  FileSystem& fs_;
  Clock& clock_;
  SetAsideListener& listener_;
  SetAsideSummary& summary_;
};

// Who may write into the folder: one at a time. A dry run needs no leave.
Result<std::unique_ptr<FolderHold>> held(FileSystem& fs, const std::string& dir, bool dry_run);

// An error when a line of the manifest can't be read.
Status undamaged(const Manifest& manifest);

}  // namespace burstsieve::pipeline
