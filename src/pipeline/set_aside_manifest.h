// The record in the folder that frames are set aside to: JSON Lines, only ever appended to, ahead of every
// move. docs/set-aside.md is its specification.
#pragma once
#include <cstdint>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "burstsieve/base/file_system.h"
#include "burstsieve/base/move.h"

namespace burstsieve::pipeline {

enum class AsideState {
  planned,    // is being moved to the folder, or was when the program died
  not_moved,  // that was taken back
  aside,      // is in the folder
  returning,  // is being moved back, or was when the program died
  back,       // is at its old place again
};

struct ManifestFile {
  std::string from;  // absolute
  std::string root;  // the culled folder that `from` lies in; never made anew
  std::string to;    // relative to the manifest's folder
  std::uint64_t size = 0;
  std::int64_t mtime_ns = 0;
  std::uint32_t mode = 0;  // permission bits
  std::string checksum;
  bool sidecar = false;
};

// A file on its way back as it is now, with the time and permissions it is to get.
struct ReturningFile {
  std::uint64_t size = 0;
  std::int64_t mtime_ns = 0;
  std::uint32_t mode = 0;
  std::string checksum;
};

struct ManifestFrame {
  std::int64_t id = 0;  // 1.. in the order of planning
  std::int64_t run = 0;
  std::int64_t time_ms = 0;
  std::string by;
  std::vector<ManifestFile> files;  // the main photograph first
  AsideState state = AsideState::planned;
  std::vector<std::optional<ReturningFile>> returning;  // one per file; nothing: it was gone
};

class Manifest {
 public:
  // No manifest gives an empty one. Cause::unsupported for a file that is not ours or of a newer release.
  // Lines that can't be read are in damaged().
  static Result<Manifest> read(FileSystem& fs, const std::string& dir);

  bool exists() const { return exists_; }
  const std::vector<ManifestFrame>& frames() const { return frames_; }
  const std::vector<Error>& damaged() const { return damaged_; }

  // Before the first of the following: makes the file, or cuts off a last line that a crash left unfinished.
  Status start_writing();
  // On the disk when it returns. Gives the frame its number.
  Result<std::int64_t> plan(ManifestFrame frame);
  // On the disk when it returns.
  Status plan_return(std::int64_t id, std::vector<std::optional<ReturningFile>> files, std::int64_t time_ms);
  // With the next plan or finish() on the disk: until then a crash makes resume_move() look again.
  Status mark(std::int64_t id, AsideState state, std::int64_t time_ms);
  Status finish();

  // What is to be moved, and how the copies are called meanwhile.
  std::vector<MovingFile> moves_of(const ManifestFrame& frame) const;
  std::vector<MovingFile> returns_of(const ManifestFrame& frame) const;

 private:
  Manifest(FileSystem& fs, std::string dir);
  std::string path() const;
  std::string temporary(std::int64_t id, std::size_t file) const;
  Status take(std::string_view line, std::size_t number);
  ManifestFrame* frame(std::int64_t id);
  Status append(const std::string& line, bool sync);

  FileSystem* fs_;
  std::string dir_;
  std::string key_;  // random; makes the names of temporaries ours alone
  bool exists_ = false;
  bool broken_ = false;  // a write failed: nothing may follow a torn line
  std::optional<FileStat> seen_;
  ByteBuffer torn_from_;  // the whole lines, when there is a torn one behind them
  bool torn_ = false;
  std::vector<ManifestFrame> frames_;
  std::vector<Error> damaged_;
  std::unique_ptr<NewFile> out_;
};

}  // namespace burstsieve::pipeline
