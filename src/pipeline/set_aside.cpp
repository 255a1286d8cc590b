#include "burstsieve/pipeline/set_aside.h"

#include <fmt/format.h>

#include <algorithm>
#include <filesystem>
#include <map>
#include <memory>
#include <optional>
#include <set>
#include <utility>

#include "burstsieve/base/checksum.h"
#include "burstsieve/base/move.h"
#include "burstsieve/base/text.h"
#include "burstsieve/base/version.h"
#include "burstsieve/group/pairs.h"
#include "burstsieve/pipeline/scan.h"
#include "metadata.h"
#include "set_aside_frame.h"
#include "set_aside_manifest.h"

namespace burstsieve::pipeline {
namespace {

Error changed(const std::string& path) {
  return {Cause::io, path, "was changed meanwhile; its frame stays"};
}

// What both directions share: the manifest, and telling.
class Mover {
 public:
  Mover(std::string dir, Manifest& manifest, FileSystem& fs, Clock& clock, SetAsideListener& listener,
        SetAsideSummary& summary)
      : dir_(std::move(dir)),
        manifest_(manifest),
        fs_(fs),
        clock_(clock),
        listener_(listener),
        summary_(summary) {}

  // What an earlier run left half done is taken back, so that every frame is at one place or the other.
  // Frames half moved to the folder are then judged anew: their sidecars may say otherwise by now.
  Status settle() {
    std::vector<ManifestFrame> open;
    for (const ManifestFrame& f : manifest_.frames())
      if (f.state == AsideState::planned || f.state == AsideState::returning) open.push_back(f);
    if (open.empty()) return Done{};
    if (summary_.dry_run) {
      listener_.note(dir_,
                     fmt::format("{} frames that an earlier run was at when it was stopped would be put in "
                                 "order first",
                                 open.size()));
      return Done{};
    }
    for (const ManifestFrame& f : open) {
      const bool returning = f.state == AsideState::returning;
      if (auto absent = root_missing(f); !returning && absent) {
        fail(*absent);
        continue;
      }
      const auto moves = returning ? manifest_.returns_of(f) : manifest_.moves_of(f);
      const GroupMove done = take_back(fs_, moves);
      for (const Error& e : done.errors) fail(e);
      if (done.place == GroupPlace::between) continue;
      const AsideState now = returning ? AsideState::aside : AsideState::not_moved;
      if (auto s = manifest_.mark(f.id, now, clock_.now_ms()); !s) return s.error();
      ++summary_.finished;
    }
    return Done{};
  }

  // False: it is where it was, or, told, between. An error: the manifest can't be written any more.
  Result<bool> move(std::int64_t id, std::vector<MovingFile> moves, AsideState there, AsideState here) {
    const GroupMove done = move_group(fs_, moves);
    for (const Error& e : done.errors) fail(e);
    if (done.place == GroupPlace::between) return false;
    const bool arrived = done.place == GroupPlace::there;
    if (auto s = manifest_.mark(id, arrived ? there : here, clock_.now_ms()); !s) return s.error();
    return arrived;
  }

  void told(const AsideFrame& frame) {
    ++summary_.frames;
    summary_.files += frame.files.size();
    for (const AsideFile& f : frame.files) summary_.bytes += f.size;
    listener_.frame(frame);
  }

  void fail(const Error& error) {
    ++summary_.errors;
    listener_.error(error);
  }

  std::optional<Error> root_missing(const ManifestFrame& f) {
    for (const ManifestFile& file : f.files) {
      const auto there = fs_.stat(file.root);
      if (!there) return there.error();
      if (!*there || (*there)->type != FileType::folder)
        return Error{Cause::io, file.from, file.root + " is not there; is its disk or card mounted?"};
    }
    return std::nullopt;
  }

 protected:
  std::string dir_;
  Manifest& manifest_;
  FileSystem& fs_;
  Clock& clock_;
  SetAsideListener& listener_;
  SetAsideSummary& summary_;
};

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

// Who may write into the folder: one at a time.
Result<std::unique_ptr<FolderHold>> held(FileSystem& fs, const std::string& dir, bool dry_run) {
  if (dry_run) return std::unique_ptr<FolderHold>();
  return fs.hold(dir);
}

Status undamaged(const Manifest& manifest) {
  if (manifest.damaged().empty()) return Done{};
  const Error& first = manifest.damaged().front();
  return Error{first.cause, first.file, first.text + "; set aside to another folder"};
}

}  // namespace

Status settle_set_aside(const std::string& dir, FileSystem& fs, Clock& clock, SetAsideListener& listener,
                        SetAsideSummary& summary) {
  auto manifest = Manifest::read(fs, dir);
  if (!manifest) return manifest.error();
  if (auto s = undamaged(*manifest); !s) return s.error();
  if (auto s = Mover(dir, *manifest, fs, clock, listener, summary).settle(); !s) return s.error();
  return manifest->finish();
}

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

namespace {

namespace stdfs = std::filesystem;

Result<std::string> resolved(const std::string& path) {
  std::error_code failed;
  const stdfs::path absolute = stdfs::absolute(path, failed);
  const stdfs::path real = failed ? absolute : stdfs::weakly_canonical(absolute, failed);
  if (failed) return Error{Cause::io, path, failed.message()};
  std::string out = real.string();
  while (out.size() > 1 && out.back() == '/') out.pop_back();
  return out;
}

bool within(const std::string& path, const std::string& folder) {
  return path == folder || folder == "/" || (path.starts_with(folder) && path[folder.size()] == '/');
}

bool is_file(const std::string& path) {
  std::error_code ignored;
  return stdfs::is_regular_file(path, ignored);
}

// The places as the run wrote them down: joined by ", ", relative ones from the folder it ran in. Only what
// is there, and holds frames that the catalogue knows, is believed.
Result<std::vector<std::string>> places_of(const Run& run, Catalog& catalog) {
  const auto known = [&](const std::string& place) {
    std::error_code ignored;
    return stdfs::exists(place, ignored) &&
           !catalog.verdicts_below(is_file(place) ? folder_of(place) : place).empty();
  };
  const Error unclear{Cause::unsupported, one_line(run.folder),
                      "is what the last culling run culled, and can't be found from here; name the folders"};
  std::vector<std::string> out;
  std::string rest = run.folder;
  while (!rest.empty()) {
    // A folder's own name may hold ", ": the longest that is there.
    std::size_t end = rest.size();
    while (end != std::string::npos && !known(rest.substr(0, end)))
      end = end == 0 ? std::string::npos : rest.rfind(", ", end - 1);
    if (end == std::string::npos || end == 0) return unclear;
    out.push_back(rest.substr(0, end));
    rest = end == rest.size() ? "" : rest.substr(end + 2);
  }
  if (out.empty()) return unclear;
  return out;
}

Result<std::vector<std::string>> last_culled(Catalog& catalog) {
  const auto runs = catalog.runs();
  for (auto run = runs.rbegin(); run != runs.rend(); ++run)
    if (run->options != "dry run" && !run->options.starts_with("set aside")) return places_of(*run, catalog);
  return Error{Cause::unsupported, {}, "nothing was culled yet: name the folders to set aside from"};
}

// Every place with its links resolved, a single file standing for its folder's tree; several get a folder
// each.
Result<std::vector<SetAsideJob::Root>> roots_of(const std::vector<std::string>& places,
                                                const std::string& dir) {
  std::vector<std::string> roots;
  for (const std::string& place : places) {
    const std::string root = is_file(place) ? folder_of(place) : place;
    if (within(dir, root))
      return Error{Cause::unsupported, dir,
                   "lies in " + root +
                       ", which is culled: the next run would cull what was set aside again; name a "
                       "folder outside it"};
    if (within(root, dir))
      return Error{Cause::unsupported, root,
                   "lies in " + dir + ", where it would be set aside to; name another folder"};
    roots.push_back(root);
  }
  std::vector<SetAsideJob::Root> out;
  std::set<std::string> prefixes;
  for (const std::string& root : roots) {
    const auto outer = [&](const std::string& other) { return other != root && within(root, other); };
    const auto same = [&](const SetAsideJob::Root& other) { return other.path == root; };
    if (std::any_of(roots.begin(), roots.end(), outer) || std::any_of(out.begin(), out.end(), same)) continue;
    std::string prefix = leaf_of(root);
    for (int n = 2; !prefixes.insert(prefix).second; ++n) prefix = leaf_of(root) + fmt::format("-{}", n);
    out.push_back({root, prefix + "/"});
  }
  if (out.size() == 1) out.front().prefix.clear();
  return out;
}

// The frames as cull() sees them. The only place here that opens photographs.
Result<std::vector<Burst>> bursts_of(const std::vector<std::string>& places, const SetAsideOptions& options,
                                     Catalog& catalog, SetAsideListener& listener, SetAsideSummary& summary) {
  const auto fail = [&](const Error& e) {
    ++summary.errors;
    listener.error(e);
  };
  const auto engine = make_engine(options.engine, 0, options.limits);
  if (!engine) return engine.error();
  auto found = scan(**engine, places, options.limits);
  if (!found) return found.error();
  for (const Error& e : found->errors) fail(e);
  auto metadata = read_metadata(found->files, catalog, **engine);
  if (const Status s = (*engine)->status(); !s) return s.error();
  for (const Error& e : metadata.errors) fail(e);
  return group::form_bursts(group::pair_files(std::move(metadata.taken)), options.bursts);
}

std::set<std::string> linked_folders(const std::vector<Burst>& bursts) {
  std::set<std::string> folders, out;
  const auto add = [&](const std::optional<FileRef>& f) {
    if (f) folders.insert(folder_of(f->path));
  };
  for (const Burst& b : bursts)
    for (const Frame& f : b.frames) {
      add(f.raw);
      add(f.jpeg);
      for (const FileRef& copy : f.copies) add(copy);
    }
  for (const std::string& folder : folders)
    if (const auto real = resolved(folder); !real || *real != folder) out.insert(folder);
  return out;
}

std::string joined(const std::vector<std::string>& places) {
  std::string out;
  for (const std::string& p : places) out += (out.empty() ? "" : ", ") + p;
  return out;
}

// Nothing to do although the catalogue knows rejects that are still there: their sidecars are elsewhere.
void hint(const std::vector<std::string>& places, const SetAsideSummary& s, Catalog& catalog, FileSystem& fs,
          SetAsideListener& listener) {
  if (s.frames + s.refused + s.spared + s.theirs + s.errors > 0) return;
  for (const std::string& place : places) {
    std::size_t rejects = 0;
    for (const PathVerdict& v : catalog.verdicts_below(place)) {
      if (v.verdict.verdict != Verdict::reject) continue;
      const auto there = fs.stat(v.path);
      rejects += there && there->has_value();
    }
    if (rejects > 0)
      listener.note(place,
                    fmt::format("{} frames were rejected, but no sidecar says so: a dry run, or sidecars in "
                                "another folder (--sidecars)?",
                                rejects));
  }
}

Status make_dir(FileSystem& fs, const std::string& dir, bool dry_run) {
  const auto there = fs.stat(dir);
  if (!there) return there.error();
  if (*there && (*there)->type != FileType::folder) return Error{Cause::unsupported, dir, "is no folder"};
  if (dry_run) return Done{};
  if (auto s = make_folders(fs, dir, 0777); !s) return s.error();
  return fs.check_writable(dir);
}

}  // namespace

Result<SetAsideSummary> set_aside(const SetAsideOptions& options, Catalog& catalog, FileSystem& fs,
                                  Clock& clock, SetAsideListener& listener, const std::atomic<bool>* stop) {
  if (auto s = options.bursts.check(); !s) return s.error();
  SetAsideJob job;
  job.dry_run = options.dry_run;
  const auto dir = resolved(options.dir);
  if (!dir) return dir.error();
  job.dir = *dir;
  std::vector<std::string> places = options.places;
  if (places.empty()) {
    auto last = last_culled(catalog);
    if (!last) return last.error();
    places = std::move(*last);
  }
  listener.folders(places, options.places.empty());
  for (std::string& place : places) {
    auto real = resolved(place);
    if (!real) return real.error();
    place = std::move(*real);
  }
  auto roots = roots_of(places, job.dir);
  if (!roots) return roots.error();
  job.roots = std::move(*roots);
  if (!options.sidecars.empty()) {
    auto real = resolved(options.sidecars);
    if (!real) return real.error();
    job.sidecars = std::move(*real);
  }

  if (auto s = make_dir(fs, job.dir, job.dry_run); !s) return s.error();
  const auto hold = held(fs, job.dir, job.dry_run);
  if (!hold) return hold.error();
  // Before the scan: what comes back is to be seen by it.
  SetAsideSummary before;
  before.dry_run = job.dry_run;
  if (auto s = settle_set_aside(job.dir, fs, clock, listener, before); !s) return s.error();
  const auto bursts = bursts_of(places, options, catalog, listener, before);
  if (!bursts) return bursts.error();
  job.linked = linked_folders(*bursts);

  if (!job.dry_run) {
    Run run;
    run.started_ms = clock.now_ms();
    run.folder = joined(places);
    run.options = "set aside";
    run.version = kVersion;
    const auto id = catalog.record_run(run);
    if (!id) return id.error();
    job.run = *id;
  }
  auto summary = set_aside_bursts(job, *bursts, fs, clock, listener, stop);
  if (!summary) return summary.error();
  summary->errors += before.errors;
  summary->finished += before.finished;
  if (!job.dry_run) {
    RunCounts counts;
    counts.frames = static_cast<std::int64_t>(summary->seen);
    counts.bursts = static_cast<std::int64_t>(bursts->size());
    counts.rejects = static_cast<std::int64_t>(summary->frames);
    if (const auto s = catalog.finish_run(job.run, clock.now_ms(), counts); !s) return s.error();
  }
  hint(places, *summary, catalog, fs, listener);
  for (const std::string& note : catalog.take_notes()) {
    ++summary->errors;
    listener.error({Cause::corrupt, {}, note});
  }
  return summary;
}

}  // namespace burstsieve::pipeline
