// The way back: everything that is set aside in a folder, to where it was.
#include <optional>
#include <utility>

#include "burstsieve/base/checksum.h"
#include "set_aside_mover.h"

namespace burstsieve::pipeline {
namespace {

class PuttingBack : public Mover {
 public:
  using Mover::Mover;

  Status frame(const ManifestFrame& f) {
    ++summary_.seen;
    auto planned = plan(f);
    if (!planned) {
      ++summary_.refused;
      fail(planned.error());
      return Done{};
    }
    if (planned->left == 0) return Done{};
    if (!summary_.dry_run) {
      if (auto s = manifest_.plan_return(f.id, planned->files, clock_.now_ms()); !s) return s.error();
      ManifestFrame record = f;
      record.returning = planned->files;
      auto moves = manifest_.returns_of(record);
      for (std::size_t i = 0; i < moves.size(); ++i) moves[i].seen = planned->seen[i];
      const auto moved = move(f.id, std::move(moves), AsideState::back, AsideState::aside);
      if (!moved) return moved.error();
      if (!*moved) {
        ++summary_.refused;
        return Done{};
      }
    }
    tell(f, *planned);
    return Done{};
  }

 private:
  struct Planned {
    std::vector<std::optional<ReturningFile>> files;
    std::vector<FileStat> seen;  // of those that are there
    std::vector<std::string> changed;
    std::size_t left = 0;
  };

  Result<Planned> plan(const ManifestFrame& f) {
    if (auto absent = root_missing(f)) return *absent;
    Planned out;
    for (const ManifestFile& file : f.files) {
      const std::string path = dir_ + "/" + file.to;
      const auto there = fs_.stat(path);
      if (!there) return there.error();
      if (!*there) {
        out.files.push_back(std::nullopt);
        ++summary_.gone;
        listener_.note(path, "is gone: " + file.from + " does not come back");
        continue;
      }
      const auto occupied = fs_.stat(file.from);
      if (!occupied) return occupied.error();
      if (*occupied) return Error{Cause::io, file.from, "exists again; its frame stays in " + dir_};
      auto sum = sum_file(fs_, path);
      if (!sum) return sum.error();
      ReturningFile r{sum->stat.size, file.mtime_ns, file.mode, sum->checksum};
      if (sum->checksum != file.checksum) {
        out.changed.push_back(file.from);
        r.mtime_ns = sum->stat.mtime_ns;
        r.mode = sum->stat.mode;
      }
      out.seen.push_back(sum->stat);
      out.files.push_back(std::move(r));
      ++out.left;
    }
    return out;
  }

  void tell(const ManifestFrame& f, const Planned& planned) {
    AsideFrame out{f.files.front().from, f.by, {}};
    for (std::size_t i = 0; i < f.files.size(); ++i)
      if (planned.files[i])
        out.files.push_back(
            {dir_ + "/" + f.files[i].to, f.files[i].from, planned.files[i]->size, f.files[i].sidecar});
    told(out);
    for (const std::string& path : planned.changed) {
      ++summary_.changed;
      listener_.note(path, "was changed while it was set aside; it comes back as it is now");
    }
  }
};

}  // namespace

Result<SetAsideSummary> set_back(const std::string& dir, bool dry_run, std::int64_t run, FileSystem& fs,
                                 Clock& clock, SetAsideListener& listener, const std::atomic<bool>* stop) {
  SetAsideSummary summary;
  summary.dry_run = dry_run;
  summary.run = run;
  const auto hold = held(fs, dir, dry_run);
  if (!hold) return hold.error();
  auto manifest = Manifest::read(fs, dir);
  if (!manifest) return manifest.error();
  if (!manifest->exists())
    return Error{Cause::unsupported, dir,
                 std::string("holds no ") + kSetAsideManifest + ": nothing was set aside here"};
  PuttingBack back(dir, *manifest, fs, clock, listener, summary);
  // The frames of the other lines come back all the same.
  for (const Error& e : manifest->damaged()) back.fail(e);
  if (auto s = back.settle(); !s) return s.error();
  std::vector<ManifestFrame> frames;
  for (const ManifestFrame& f : manifest->frames())
    if (f.state == AsideState::aside) frames.push_back(f);
  for (const ManifestFrame& f : frames) {
    if (stop && stop->load()) {
      summary.stopped = true;
      break;
    }
    if (auto s = back.frame(f); !s) return s.error();
  }
  if (auto s = manifest->finish(); !s) return s.error();
  return summary;
}

}  // namespace burstsieve::pipeline
