#include "burstsieve/group/pairs.h"

#include <algorithm>
#include <cstdlib>
#include <map>
#include <string>
#include <string_view>

#include "burstsieve/base/file_system.h"
#include "burstsieve/base/text.h"

namespace burstsieve::group {
namespace {

std::string stem_of(std::string_view path) {
  const auto slash = path.rfind('/');
  std::string_view name = slash == std::string_view::npos ? path : path.substr(slash + 1);
  const auto dot = name.rfind('.');
  if (dot != std::string_view::npos && dot > 0) name = name.substr(0, dot);
  return lower_ascii(name);
}

bool same_release(const TakenFile& raw, const TakenFile& jpeg) {
  const Capture &a = raw.capture, &b = jpeg.capture;
  const bool same_folder = folder_of(raw.file.path) == folder_of(jpeg.file.path);
  // A field that one of the two lost is no contradiction inside a folder.
  const auto agrees = [](const std::string& x, const std::string& y) {
    return x.empty() || y.empty() || x == y;
  };
  if (!agrees(a.make, b.make) || !agrees(a.model, b.model) || !agrees(a.serial, b.serial)) return false;
  if (!a.time_ms || !b.time_ms) return same_folder;
  const bool exact = a.subsecond_known && b.subsecond_known;
  if (exact) return a.time_ms == b.time_ms;
  return same_folder && std::abs(*a.time_ms - *b.time_ms) < 1000;
}

bool same_bytes(const FileRef& a, const FileRef& b) {
  return a.kind == b.kind && a.size == b.size && a.fingerprint == b.fingerprint && a.fingerprint != 0;
}

// A copy brings nothing new: it rides along with the first of its kind.
struct Unique {
  TakenFile taken;
  std::vector<FileRef> copies;
  bool used = false;
};

std::vector<Unique> without_copies(std::vector<TakenFile> files) {
  std::vector<Unique> out;
  std::multimap<std::uint64_t, std::size_t> by_fingerprint;
  for (TakenFile& f : files) {
    const auto [first, last] = by_fingerprint.equal_range(f.file.fingerprint);
    const auto known = std::find_if(
        first, last, [&](const auto& e) { return same_bytes(out[e.second].taken.file, f.file); });
    if (known != last) {
      out[known->second].copies.push_back(std::move(f.file));
      continue;
    }
    by_fingerprint.emplace(f.file.fingerprint, out.size());
    out.push_back({std::move(f), {}, false});
  }
  return out;
}

Frame frame_of(Unique& main, Unique* jpeg) {
  Frame frame;
  frame.capture = std::move(main.taken.capture);
  frame.jpeg_orientation = jpeg ? jpeg->taken.capture.orientation : frame.capture.orientation;
  frame.copies = std::move(main.copies);
  (main.taken.file.kind == FileKind::raw ? frame.raw : frame.jpeg) = std::move(main.taken.file);
  if (jpeg) {
    frame.jpeg = std::move(jpeg->taken.file);
    frame.copies.insert(frame.copies.end(), jpeg->copies.begin(), jpeg->copies.end());
    if (!frame.capture.time_ms) frame.capture.time_ms = jpeg->taken.capture.time_ms;
    if (!frame.capture.af) frame.capture.af = jpeg->taken.capture.af;
    jpeg->used = true;
  }
  return frame;
}

}  // namespace

std::vector<Frame> pair_files(std::vector<TakenFile> files) {
  std::sort(files.begin(), files.end(),
            [](const TakenFile& a, const TakenFile& b) { return a.file.path < b.file.path; });
  std::vector<Unique> unique = without_copies(std::move(files));
  std::multimap<std::string, Unique*> jpegs;
  for (Unique& u : unique)
    if (u.taken.file.kind == FileKind::jpeg) jpegs.emplace(stem_of(u.taken.file.path), &u);

  std::vector<Frame> out;
  // Twice: a partner in the same folder goes before one elsewhere.
  for (const bool same_folder : {true, false})
    for (Unique& u : unique) {
      if (u.used || u.taken.file.kind != FileKind::raw) continue;
      const auto [first, last] = jpegs.equal_range(stem_of(u.taken.file.path));
      for (auto it = first; it != last; ++it) {
        Unique& j = *it->second;
        if (j.used || !same_release(u.taken, j.taken)) continue;
        if (same_folder != (folder_of(u.taken.file.path) == folder_of(j.taken.file.path))) continue;
        out.push_back(frame_of(u, &j));
        u.used = true;
        break;
      }
    }
  for (Unique& u : unique)
    if (!u.used) out.push_back(frame_of(u, nullptr));
  std::sort(out.begin(), out.end(),
            [](const Frame& a, const Frame& b) { return a.main().path < b.main().path; });
  return out;
}

}  // namespace burstsieve::group
