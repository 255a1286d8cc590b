#include "set_aside_frame.h"

#include <fmt/format.h>

#include <algorithm>

#include "burstsieve/base/text.h"
#include "burstsieve/sidecar/merge.h"
#include "burstsieve/sidecar/naming.h"

namespace burstsieve::pipeline {
namespace {

// "a/b.c.JPG" -> "a/b.c"
std::string without_extension(const std::string& path) {
  const std::string leaf = leaf_of(path);
  const auto dot = leaf.rfind('.');
  return dot == std::string::npos || dot == 0 ? path : path.substr(0, path.size() - (leaf.size() - dot));
}

std::string first_part(const std::string& name) {
  return lower_ascii(name.substr(0, name.find('.', 1)));
}

bool is_below(const std::string& path, const std::string& folder) {
  return path.size() > folder.size() && path.starts_with(folder) &&
         (folder.ends_with('/') || path[folder.size()] == '/');
}

std::string below(const std::string& path, const std::string& folder) {
  return path.substr(folder.ends_with('/') ? folder.size() : folder.size() + 1);
}

std::vector<const FileRef*> photographs_of(const Frame& frame) {
  std::vector<const FileRef*> out;
  if (frame.raw) out.push_back(&*frame.raw);
  if (frame.jpeg) out.push_back(&*frame.jpeg);
  for (const FileRef& copy : frame.copies) out.push_back(&copy);
  return out;
}

bool is_sidecar_of(const std::string& name, const std::string& photograph) {
  if (!lower_ascii(name).ends_with(".xmp")) return false;
  const std::string base = name.substr(0, name.size() - 4);
  return base == photograph || base == without_extension(photograph);
}

// The word of one sidecar; -1 is the one rating that rejects (ISO 16684-1 §8.4).
Word word_of(const SidecarRecord& record) {
  if (record.human) return record.human->rating == -1. ? Word::person : Word::stays_by_person;
  return record.written_rating == -1 ? Word::ours : Word::none;
}

}  // namespace

FrameExaminer::FrameExaminer(const SetAsideJob& job, const std::vector<Burst>& bursts, FileSystem& fs)
    : job_(job), fs_(fs) {
  for (const Burst& b : bursts)
    for (const Frame& f : b.frames)
      for (const FileRef* p : photographs_of(f)) by_stem_[without_extension(p->path)].push_back(p->path);
}

// Listed once: a folder of ten thousand frames would take for ever otherwise. Sidecars with the usual
// suffixes are looked for anew each time.
const FrameExaminer::Names& FrameExaminer::names_in(const std::string& folder) {
  const auto [it, fresh] = folders_.emplace(folder, Names{});
  if (!fresh) return it->second;
  auto names = fs_.list(folder);
  if (!names) {
    it->second.error = names.error();
    return it->second;
  }
  for (std::string& name : *names) it->second.by_stem.emplace(first_part(name), name);
  return it->second;
}

// Names in the photograph's folder that begin with its stem and a dot, ASCII case ignored; not its own.
std::vector<std::string> FrameExaminer::named_like(const std::string& path) {
  std::vector<std::string> out;
  const std::string folder = folder_of(path), leaf = leaf_of(path);
  const std::string stem = lower_ascii(without_extension(leaf)) + ".";
  const auto [first, last] = names_in(folder).by_stem.equal_range(first_part(leaf));
  for (auto it = first; it != last; ++it)
    if (it->second != leaf && lower_ascii(it->second).starts_with(stem))
      out.push_back(folder == "/" ? folder + it->second : folder + "/" + it->second);
  return out;
}

Result<Belonging> FrameExaminer::belonging(const std::string& path) const {
  Belonging out;
  out.path = path;
  for (const SetAsideJob::Root& root : job_.roots)
    if (is_below(path, root.path)) {
      out.root = root.path;
      out.to = root.prefix + below(path, root.path);
      return out;
    }
  return Error{Cause::unsupported, path, "is not below a folder that is set aside from"};
}

Status FrameExaminer::add_photograph(const FileRef& file, Examined& out) {
  if (job_.linked.count(folder_of(file.path)) != 0)
    return Error{Cause::unsupported, file.path, "lies behind a symbolic link, left alone"};
  const auto now = fs_.stat(file.path);
  if (!now) return now.error();
  if (!*now) return Error{Cause::io, file.path, "is gone"};
  if ((*now)->type == FileType::symlink)
    return Error{Cause::unsupported, file.path, "is a symbolic link, left alone"};
  if ((*now)->size != file.size || (*now)->mtime_ns != file.mtime_ns)
    return Error{Cause::io, file.path, "was changed since it was scanned, left alone"};
  if (auto s = fs_.check_writable(folder_of(file.path)); !s) return s.error();
  auto b = belonging(file.path);
  if (!b) return b.error();
  b->photograph = &file;
  out.files.push_back(std::move(*b));
  return Done{};
}

Status FrameExaminer::add_sidecars(const FileRef& file, Examined& out, std::set<std::string>& known) {
  const Names& names = names_in(folder_of(file.path));
  if (names.error) return *names.error;
  Frame alone;  // every name that this one file's sidecars can have
  (file.kind == FileKind::raw ? alone.raw : alone.jpeg) = file;
  const auto photograph = belonging(file.path);
  if (!photograph) return photograph.error();
  SidecarOptions where;
  where.folder = job_.sidecars;
  where.root = photograph->root;
  const auto places = sidecar_places(alone, where, fs_);
  if (!places) return places.error();
  std::vector<std::string> found;
  for (const SidecarPlace& p : *places) {
    found.push_back(p.path);
    found.insert(found.end(), p.others.begin(), p.others.end());
  }
  for (const std::string& name : named_like(file.path))
    if (is_sidecar_of(leaf_of(name), leaf_of(file.path))) found.push_back(name);
  for (const std::string& path : found) {
    const auto there = fs_.stat(path);
    if (!there) return there.error();
    if (!*there || !known.insert(path).second) continue;
    if (auto s = fs_.check_writable(folder_of(path)); !s) return s.error();
    Belonging b;
    if (!job_.sidecars.empty() && is_below(path, job_.sidecars)) {
      b.path = path;
      b.root = job_.sidecars;
      b.to = photograph->to.substr(0, photograph->to.size() - leaf_of(file.path).size()) + leaf_of(path);
    } else {
      auto beside = belonging(path);
      if (!beside) return beside.error();
      b = std::move(*beside);
    }
    b.sidecar = true;
    b.read = *there;
    out.files.push_back(std::move(b));
  }
  return Done{};
}

// NAME.xmp speaks for every photograph of that name: it can't go with one and stay with another.
Status FrameExaminer::check_shared(const Frame& frame, const Examined& out) const {
  const auto photographs = photographs_of(frame);
  const auto mine = [&](const std::string& path) {
    return std::any_of(photographs.begin(), photographs.end(),
                       [&](const FileRef* p) { return p->path == path; });
  };
  for (const Belonging& b : out.files) {
    if (!b.sidecar) continue;
    const auto sharing = by_stem_.find(b.path.substr(0, b.path.size() - 4));
    if (sharing == by_stem_.end()) continue;
    for (const std::string& other : sharing->second)
      if (!mine(other))
        return Error{
            Cause::unsupported, frame.main().path,
            "its sidecar " + leaf_of(b.path) + " is also that of " + leaf_of(other) + "; the frame stays"};
  }
  return Done{};
}

Status FrameExaminer::check_targets(const Examined& out) {
  std::set<std::string> targets;
  for (const Belonging& b : out.files) {
    const std::string to = job_.dir + "/" + b.to;
    if (!targets.insert(to).second)
      return Error{Cause::unsupported, b.path,
                   "two files of its frame would become " + to + "; the frame stays"};
    const auto there = fs_.stat(to);
    if (!there) return there.error();
    if (*there) return Error{Cause::unsupported, b.path, to + " exists already; the frame stays"};
  }
  return Done{};
}

// One person's "stays" outweighs everything; then a damaged sidecar, which may hold one.
Status FrameExaminer::read_word(const Frame& frame, Examined& out) {
  const auto photographs = photographs_of(frame);
  std::optional<Error> trouble;
  bool ours = false, person = false, against = false;
  for (const Belonging& b : out.files) {
    if (!b.sidecar) continue;
    const auto bytes = fs_.read_file(b.path, kMaxSidecarBytes);
    const auto record = bytes ? read_record(*bytes) : Result<SidecarRecord>(bytes.error());
    if (!record) {
      if (!trouble) trouble = Error{record.error().cause, b.path, record.error().text + "; its frame stays"};
      continue;
    }
    switch (word_of(*record)) {
      case Word::stays_by_person:
        out.word = Word::stays_by_person;
        return Done{};
      case Word::person:
        person = true;
        break;
      case Word::ours: {
        ours = true;
        const bool same = std::any_of(photographs.begin(), photographs.end(), [&](const FileRef* p) {
          return record->frame_key == fmt::format("{:016x}", p->fingerprint);
        });
        if (!same && !trouble)
          trouble = Error{Cause::unsupported, b.path,
                          "was written for another photograph of this name; cull again"};
        break;
      }
      case Word::none:
        // Our own record of a frame that we keep, or left undecided.
        against = against || !record->verdict.empty();
        break;
    }
  }
  if (ours && !person && against && !trouble)
    trouble = Error{Cause::unsupported, frame.main().path,
                    "its sidecars contradict each other; cull again. The frame stays"};
  out.word = person ? Word::person : ours ? Word::ours : Word::none;
  if (trouble) return *trouble;
  return Done{};
}

Examined FrameExaminer::examine(const Frame& frame) {
  Examined out;
  std::set<std::string> sidecars;
  const auto photographs = photographs_of(frame);
  Status fine = Done{}, readable = Done{};
  for (const FileRef* p : photographs)
    if (fine) fine = add_photograph(*p, out);
  // What the sidecars say counts for the burst even when the frame can't be moved.
  for (const FileRef* p : photographs)
    if (readable) readable = add_sidecars(*p, out, sidecars);
  if (const auto s = read_word(frame, out); !s && readable) readable = s.error();
  if (out.word == Word::stays_by_person) return out;
  if (!readable) out.trouble = readable.error();
  if (out.word == Word::none) return out;  // whatever else is wrong, it was to stay anyway
  if (fine) fine = check_shared(frame, out);
  if (fine) fine = check_targets(out);
  if (!fine && !out.trouble) out.trouble = fine.error();

  std::set<std::string> mine;
  for (const Belonging& b : out.files) mine.insert(b.path);
  std::set<std::string> companions;
  for (const FileRef* p : photographs)
    for (const std::string& path : named_like(p->path))
      if (mine.count(path) == 0) companions.insert(path);
  out.companions.assign(companions.begin(), companions.end());
  return out;
}

}  // namespace burstsieve::pipeline
