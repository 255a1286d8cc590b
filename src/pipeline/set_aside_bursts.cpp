// The way to the folder: the rejected frames of bursts, one after the other.
#include <fmt/format.h>

#include <algorithm>
#include <map>
#include <optional>
#include <set>
#include <utility>

#include "burstsieve/base/checksum.h"
#include "set_aside_frame.h"
#include "set_aside_mover.h"

namespace burstsieve::pipeline {
namespace {

Error changed(const std::string& path) {
  return {Cause::io, path, "was changed meanwhile; its frame stays"};
}

class SettingAside : public Mover {
 public:
  SettingAside(const SetAsideJob& job, const std::vector<Burst>& bursts, Manifest& manifest, FileSystem& fs,
               Clock& clock, SetAsideListener& listener, SetAsideSummary& summary)
      : Mover(job.dir, manifest, fs, clock, listener, summary), job_(job), examiner_(job, bursts, fs) {}

  Status burst(const Burst& burst, const std::atomic<bool>* stop) {
    std::vector<Examined> frames;
    for (const Frame& f : burst.frames) frames.push_back(examiner_.examine(f));
    const std::optional<std::size_t> spared = last_one(frames);
    for (std::size_t i = 0; i < frames.size(); ++i) {
      ++summary_.seen;
      summary_.theirs += frames[i].word == Word::stays_by_person;
      if (frames[i].trouble) {
        summary_.refused += frames[i].rejected();
        fail(*frames[i].trouble);
        continue;
      }
      if (!frames[i].rejected()) continue;
      if (i == spared) {
        ++summary_.spared;
        listener_.note(burst.frames[i].main().path, "stays: rejected, but nothing else is left of its burst");
        continue;
      }
      if (stop && stop->load()) {
        summary_.stopped = true;
        return Done{};
      }
      if (auto s = frame(burst.frames[i], frames[i]); !s) return s.error();
    }
    return Done{};
  }

 private:
  // The frame to spare when all of the burst were to go: the first that no person rejected, else the first.
  static std::optional<std::size_t> last_one(const std::vector<Examined>& frames) {
    const auto goes = [](const Examined& e) { return e.rejected() && !e.trouble; };
    if (!std::all_of(frames.begin(), frames.end(), goes)) return std::nullopt;
    const auto ours =
        std::find_if(frames.begin(), frames.end(), [](const Examined& e) { return e.word == Word::ours; });
    return ours == frames.end() ? 0 : static_cast<std::size_t>(ours - frames.begin());
  }

  Status frame(const Frame& named, const Examined& looked) {
    if (job_.dry_run) {
      dry(named, looked);
      return Done{};
    }
    auto planned = plan(named);
    if (!planned) {
      ++summary_.refused;
      fail(planned.error());
      return Done{};
    }
    if (!*planned) return Done{};  // its sidecars say otherwise by now
    ManifestFrame& record = (*planned)->record;
    const auto id = manifest_.plan(record);
    if (!id) return id.error();
    record.id = *id;
    auto moves = manifest_.moves_of(record);
    for (std::size_t i = 0; i < moves.size(); ++i) moves[i].seen = (*planned)->seen[i];
    const auto moved = move(*id, std::move(moves), AsideState::aside, AsideState::not_moved);
    if (!moved) return moved.error();
    if (*moved)
      tell(named, record.by, record.files, (*planned)->companions);
    else
      ++summary_.refused;
    return Done{};
  }

  struct Planned {
    ManifestFrame record;
    std::vector<FileStat> seen;
    std::vector<std::string> companions;
  };

  // Photographs are read through first, which takes time; then the sidecars are asked once more. Nothing when
  // they no longer say reject.
  Result<std::optional<Planned>> plan(const Frame& named) {
    std::map<std::string, SummedFile> photographs;
    std::vector<const FileRef*> refs;
    if (named.raw) refs.push_back(&*named.raw);
    if (named.jpeg) refs.push_back(&*named.jpeg);
    for (const FileRef& copy : named.copies) refs.push_back(&copy);
    for (const FileRef* p : refs) {
      auto sum = sum_file(fs_, p->path);
      if (!sum) return sum.error();
      if (sum->stat.size != p->size || sum->stat.mtime_ns != p->mtime_ns) return changed(p->path);
      photographs.emplace(p->path, std::move(*sum));
    }
    const Examined now = examiner_.examine(named);
    if (now.trouble) return *now.trouble;
    if (!now.rejected()) return std::optional<Planned>();
    Planned out;
    out.record.run = job_.run;
    out.record.time_ms = clock_.now_ms();
    out.record.by = now.word == Word::person ? "person" : "burstsieve";
    out.companions = now.companions;
    for (const Belonging& b : now.files) {
      auto sum = b.sidecar ? sum_file(fs_, b.path) : Result<SummedFile>(photographs.at(b.path));
      if (!sum) return sum.error();
      if (b.read && *b.read != sum->stat) return changed(b.path);
      out.seen.push_back(sum->stat);
      out.record.files.push_back({b.path, b.root, b.to, sum->stat.size, sum->stat.mtime_ns, sum->stat.mode,
                                  sum->checksum, b.sidecar});
    }
    return std::optional<Planned>(std::move(out));
  }

  void dry(const Frame& named, const Examined& looked) {
    std::vector<ManifestFile> files;
    for (const Belonging& b : looked.files) {
      if (!promised_.insert(b.to).second) {
        ++summary_.refused;
        fail({Cause::unsupported, b.path, job_.dir + "/" + b.to + " would exist already; the frame stays"});
        return;
      }
      ManifestFile f;
      f.from = b.path;
      f.to = b.to;
      f.sidecar = b.sidecar;
      f.size = b.read ? b.read->size : b.photograph->size;
      files.push_back(std::move(f));
    }
    tell(named, looked.word == Word::person ? "person" : "burstsieve", files, looked.companions);
  }

  void tell(const Frame& named, const std::string& by, const std::vector<ManifestFile>& files,
            const std::vector<std::string>& companions) {
    AsideFrame out{named.main().path, by, {}};
    for (const ManifestFile& f : files) out.files.push_back({f.from, dir_ + "/" + f.to, f.size, f.sidecar});
    told(out);
    for (const std::string& path : companions)
      listener_.note(path,
                     "stays: shares the name of " + leaf_of(named.main().path) + ", but is no part of it");
  }

  const SetAsideJob& job_;
  FrameExaminer examiner_;
  std::set<std::string> promised_;  // of a dry run
};

}  // namespace

Result<SetAsideSummary> set_aside_bursts(const SetAsideJob& job, const std::vector<Burst>& bursts,
                                         FileSystem& fs, Clock& clock, SetAsideListener& listener,
                                         const std::atomic<bool>* stop) {
  SetAsideSummary summary;
  summary.dry_run = job.dry_run;
  summary.run = job.run;
  auto manifest = Manifest::read(fs, job.dir);
  if (!manifest) return manifest.error();
  if (auto s = undamaged(*manifest); !s) return s.error();
  SettingAside aside(job, bursts, *manifest, fs, clock, listener, summary);
  for (const Burst& b : bursts) {
    if (stop && stop->load()) summary.stopped = true;
    if (summary.stopped) break;
    if (auto s = aside.burst(b, stop); !s) return s.error();
  }
  if (auto s = manifest->finish(); !s) return s.error();
  return summary;
}

}  // namespace burstsieve::pipeline
