#include "burstsieve/base/move.h"

#include <algorithm>
#include <set>
#include <utility>

#include "burstsieve/base/checksum.h"

namespace burstsieve {

namespace {

constexpr std::size_t kCopied = 1 << 20;

Error changed(const std::string& path) {
  return Error{Cause::io, path, "was changed by another program meanwhile, left alone"};
}

std::string beside(const std::string& path, const std::string& name) {
  const std::string folder = folder_of(path);
  return folder == "/" ? folder + name : folder + "/" + name;
}

// One file on its way from `from` to `to`, whichever way that is.
struct Way {
  std::string from, to, temporary, checksum;
  std::int64_t mtime_ns = 0;
  std::uint32_t mode = 0;
  FileStat seen;  // of `from`
};

Result<std::string> copied_into(OpenFile& source, NewFile& copy) {
  Checksum sum;
  ByteBuffer piece(kCopied);
  for (;;) {
    const auto n = source.read(piece);
    if (!n) return n.error();
    if (*n == 0) return sum.text();
    sum.add(Bytes(piece).first(*n));
    if (auto s = copy.write(Bytes(piece).first(*n)); !s) return s.error();
  }
}

Status fill_copy(FileSystem& fs, const Way& way, NewFile& copy, const std::string& temporary) {
  auto source = fs.open(way.from, false);
  if (!source) return source.error();
  const auto before = (*source)->stat();
  if (!before) return before.error();
  if (*before != way.seen) return changed(way.from);
  const auto sum = copied_into(**source, copy);
  if (!sum) return sum.error();
  const auto after = (*source)->stat();
  if (!after) return after.error();
  if (*after != way.seen || *sum != way.checksum) return changed(way.from);

  // FAT and some network shares hold neither; the caller's record does.
  FileStat model = way.seen;
  model.mode = way.mode;
  static_cast<void>(copy.take_after(model));
  static_cast<void>(copy.set_mtime(way.mtime_ns));
  if (auto s = copy.sync(); !s) return s.error();
  if (auto s = copy.close(); !s) return s.error();
  const auto back = sum_file(fs, temporary, true);
  if (!back) return back.error();
  if (back->checksum != way.checksum)
    return Error{Cause::io, way.to, "the copy reads back differently from its original"};
  return Done{};
}

// Leaves `from` alone. The inode number of the copy, by which it is known afterwards.
Result<std::uint64_t> copy_verified(FileSystem& fs, const Way& way) {
  const std::string temporary = beside(way.to, way.temporary);
  auto copy = fs.create(temporary, 0600);
  if (!copy) return copy.error();
  Status done = fill_copy(fs, way, **copy, temporary);
  std::uint64_t identity = 0;
  if (done) {
    const auto made = fs.stat(temporary);
    if (!made || !*made) done = made ? Error{Cause::io, temporary, "is gone"} : made.error();
    if (done) identity = (*made)->identity;
  }
  if (done) {
    const auto renamed = fs.rename_on_device(temporary, way.to);
    if (!renamed)
      done = renamed.error();
    else if (*renamed == Renamed::other_device)
      done = Error{Cause::io, way.to, "cannot rename to it"};
  }
  if (done) return identity;
  static_cast<void>((*copy)->close());
  static_cast<void>(fs.remove(temporary));  // best effort: a resumed move removes it
  return done.error();
}

Status make_below(FileSystem& fs, const std::string& root, const std::string& folder) {
  const auto there = fs.stat(root);
  if (!there) return there.error();
  if (!*there || (*there)->type != FileType::folder)
    return Error{Cause::io, root, "is not there; is its disk or card mounted?"};
  return make_folders(fs, folder, 0777);
}

// Between this look and the step lie microseconds.
Status still_as(FileSystem& fs, const std::string& path, const FileStat& seen) {
  const auto now = fs.stat(path);
  if (!now) return now.error();
  if (*now != seen) return changed(path);
  return Done{};
}

// One name of a group, and what we know of it.
struct File {
  explicit File(const MovingFile& file) : plan(file) {}
  const MovingFile& plan;
  std::optional<std::uint64_t> copy;  // inode number of the copy that we put at plan.to
  bool renamed = false;
};

class Group {
 public:
  Group(FileSystem& fs, std::span<const MovingFile> files, bool resumed)
      : fs_(fs), files_(files.begin(), files.end()), resumed_(resumed) {}

  GroupMove move() {
    Status going = possible();
    if (!going) {
      errors_.push_back(going.error());
      return at(GroupPlace::here);
    }
    going = advance();
    if (going) return at(GroupPlace::there);
    errors_.push_back(going.error());
    return past_return_ ? at(GroupPlace::between) : retreat();
  }

  GroupMove take_back() {
    for (const File& f : files_) clear_temporaries(f.plan);
    return retreat();
  }

 private:
  GroupMove at(GroupPlace place) { return {place, std::move(errors_)}; }

  // Nobody but a move that died leaves one: the name is in the plan.
  void clear_temporaries(const MovingFile& f) {
    for (const std::string& place : {f.to, f.from}) {
      const std::string temporary = beside(place, f.temporary);
      const auto found = fs_.stat(temporary);
      if (found && *found && (*found)->type == FileType::regular) static_cast<void>(fs_.remove(temporary));
    }
  }

  Status possible() {
    for (const File& f : files_) {
      if (!f.plan.seen) return Error{Cause::unsupported, f.plan.from, "was not looked at before its move"};
      if (auto s = still_as(fs_, f.plan.from, *f.plan.seen); !s) return s.error();
      const auto there = fs_.stat(f.plan.to);
      if (!there) return there.error();
      if (*there) return Error{Cause::io, f.plan.to, "exists already; nothing is overwritten"};
    }
    return Done{};
  }

  std::vector<File*> those(bool sidecars_first, bool (*wanted)(const File&)) {
    std::vector<File*> out;
    for (File& f : files_)
      if (wanted(f)) out.push_back(&f);
    std::stable_sort(out.begin(), out.end(), [&](const File* a, const File* b) {
      return sidecars_first ? a->plan.sidecar > b->plan.sidecar : a->plan.sidecar < b->plan.sidecar;
    });
    return out;
  }

  Status advance() {
    const auto waiting = [](const File& f) { return !f.renamed; };
    auto order = those(false, waiting);
    for (const File* f : order)
      if (auto s = make_below(fs_, f->plan.to_root, folder_of(f->plan.to)); !s) return s.error();
    if (!order.empty()) {
      const auto first = rename(*order.front());
      if (!first) return first.error();
      order = those(*first == Renamed::other_device, waiting);
    }
    for (File* f : order)
      if (auto s = place(*f); !s) return s.error();
    // What has arrived is on the disk before anything is seen to leave.
    if (auto s = sync([](const File&) { return true; }, true); !s) return s.error();
    if (auto s = sync([](const File& f) { return f.renamed; }, false); !s) return s.error();
    return remove_originals();
  }

  Result<Renamed> rename(File& f) {
    if (auto s = still_as(fs_, f.plan.from, *f.plan.seen); !s) return s.error();
    auto done = fs_.rename_on_device(f.plan.from, f.plan.to);
    f.renamed = done && *done == Renamed::done;
    return done;
  }

  Status place(File& f) {
    const auto renamed = rename(f);
    if (!renamed) return renamed.error();
    if (*renamed == Renamed::done) return Done{};
    const auto copy = copy_verified(fs_, {f.plan.from, f.plan.to, f.plan.temporary, f.plan.checksum,
                                          f.plan.mtime_ns, f.plan.mode, *f.plan.seen});
    if (!copy) return copy.error();
    f.copy = *copy;
    return Done{};
  }

  Status remove_originals() {
    const auto copied = [](const File& f) { return f.copy.has_value(); };
    const auto order = those(false, copied);
    for (const File* f : order)
      if (auto s = still_as(fs_, f->plan.from, *f->plan.seen); !s) return s.error();
    for (File* f : order) {
      if (auto s = still_as(fs_, f->plan.from, *f->plan.seen); !s) return s.error();
      if (auto s = fs_.remove(f->plan.from); !s) return s.error();
      past_return_ = true;  // taking back would mean copying back: going on is nearer
    }
    return sync(copied, false);
  }

  template <class Wanted>
  Status sync(Wanted wanted, bool targets) {
    std::set<std::string> folders;
    for (const File& f : files_)
      if (wanted(f)) folders.insert(folder_of(targets ? f.plan.to : f.plan.from));
    for (const std::string& folder : folders) {
      const auto found = fs_.stat(folder);
      if (found && !*found) continue;  // a resumed move whose folder was removed since
      if (auto s = fs_.sync_folder(folder); !s) return s.error();
    }
    return Done{};
  }

  GroupMove retreat() {
    bool all_here = true;
    // Sidecars first: a photograph that comes back finds its own there.
    for (File* f : those(true, [](const File&) { return true; }))
      if (auto s = bring_back(*f); !s) {
        errors_.push_back(s.error());
        all_here = false;
      }
    // Their new names first, as on the way there.
    for (const bool targets : {false, true})
      if (auto s = sync([](const File&) { return true; }, targets); !s) {
        errors_.push_back(s.error());
        all_here = false;
      }
    return at(all_here ? GroupPlace::here : GroupPlace::between);
  }

  Status bring_back(File& f) {
    const auto here = fs_.stat(f.plan.from);
    if (!here) return here.error();
    const auto there = fs_.stat(f.plan.to);
    if (!there) return there.error();
    if (!*there && !*here) {
      errors_.push_back({Cause::io, f.plan.from, "is gone, from " + f.plan.to + " as well"});
      return Done{};
    }
    if (!*there) return Done{};
    if (!*here) return bring(f.plan, **there);
    if (!resumed_ && !ours(f, **there)) return Done{};  // somebody else's, it was in the way
    return drop_second_copy(f);
  }

  static bool ours(const File& f, const FileStat& there) {
    return (f.copy && there.identity == *f.copy) || there.identity == f.plan.seen->identity;
  }

  // Both names hold the planned contents, or both stay.
  Status drop_second_copy(File& f) {
    const auto original = sum_file(fs_, f.plan.from), copy = sum_file(fs_, f.plan.to);
    for (const auto* sum : {&original, &copy})
      if (!*sum || (*sum)->checksum != f.plan.checksum) {
        errors_.push_back({Cause::io, f.plan.to, "stays as well: it differs from " + f.plan.from});
        return Done{};
      }
    if (auto s = still_as(fs_, f.plan.to, copy->stat); !s) return s.error();
    return fs_.remove(f.plan.to);
  }

  // Whatever stands there now, changed or not, goes back to the old place.
  Status bring(const MovingFile& f, const FileStat& there) {
    if (auto s = make_below(fs_, f.from_root, folder_of(f.from)); !s) return s.error();
    const auto renamed = fs_.rename_on_device(f.to, f.from);
    if (!renamed) return renamed.error();
    if (*renamed == Renamed::done) return Done{};
    const auto now = sum_file(fs_, f.to);
    if (!now) return now.error();
    const bool same = now->checksum == f.checksum;
    const auto copy =
        copy_verified(fs_, {f.to, f.from, f.temporary, now->checksum, same ? f.mtime_ns : now->stat.mtime_ns,
                            same ? f.mode : there.mode, now->stat});
    if (!copy) return copy.error();
    if (auto s = fs_.sync_folder(folder_of(f.from)); !s) return s.error();
    if (auto s = still_as(fs_, f.to, now->stat); !s) return s.error();
    return fs_.remove(f.to);
  }

  FileSystem& fs_;
  std::vector<File> files_;
  bool resumed_;
  bool past_return_ = false;
  std::vector<Error> errors_;
};

}  // namespace

GroupMove move_group(FileSystem& fs, std::span<const MovingFile> files) {
  return Group(fs, files, false).move();
}

GroupMove take_back(FileSystem& fs, std::span<const MovingFile> files) {
  return Group(fs, files, true).take_back();
}

}  // namespace burstsieve
