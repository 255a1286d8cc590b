#include "burstsieve/sidecar/naming.h"

#include <algorithm>
#include <array>
#include <optional>

namespace burstsieve {

namespace {

// Path of a photograph without its extension; nothing for ".jpg" and "jpg", which have no stem.
std::optional<std::string> stem_of(const std::string& path) {
  const std::string leaf = leaf_of(path);
  const auto dot = leaf.rfind('.');
  if (dot == std::string::npos || dot == 0) return std::nullopt;
  return path.substr(0, path.size() - (leaf.size() - dot));
}

// Linux allows that in any of its file systems.
constexpr std::size_t kLongestName = 255;

bool has_room(const std::string& base) {
  return leaf_of(base).size() + 4 <= kLongestName;
}

// `base` + ".xmp" in every spelling that exists. One file, where case does not count, is found once.
Result<std::vector<std::string>> existing(const std::string& base, FileSystem& fs) {
  static constexpr std::array<const char*, 3> suffixes{".xmp", ".XMP", ".Xmp"};
  std::vector<std::string> out;
  std::vector<FileStat> seen;
  for (const char* suffix : suffixes) {
    const auto found = fs.stat(base + suffix);
    if (!found) return found.error();
    if (!*found || (*found)->type == FileType::folder) continue;
    if (std::find(seen.begin(), seen.end(), **found) != seen.end()) continue;
    seen.push_back(**found);
    out.push_back(base + suffix);
  }
  return out;
}

bool has_parent_step(const std::string& path) {
  return ("/" + path + "/").find("/../") != std::string::npos;
}

// The photograph's path with options.folder in place of options.root.
Result<std::string> mirrored(const std::string& path, const SidecarOptions& options) {
  std::string root = options.root;
  while (!root.empty() && root.back() == '/') root.pop_back();
  const bool below = options.root.empty() ? path.substr(0, 1) != "/"
                                          : path.size() > root.size() + 1 && path.starts_with(root) &&
                                                path[root.size()] == '/';
  std::string relative = options.root.empty() || !below ? path : path.substr(root.size() + 1);
  if (!below || has_parent_step(relative))
    return Error{Cause::unsupported, path, "is not below the folder its sidecar path should mirror"};
  while (!relative.empty() && relative.front() == '/') relative.erase(0, 1);
  return options.folder + "/" + relative;
}

// The bases (paths without ".xmp") of one photograph's sidecars, the preferred one first.
std::vector<std::string> bases_of(const std::string& path, SidecarNaming naming, bool may_be_plain) {
  std::vector<std::string> out{path};
  const auto stem = stem_of(path);
  if (stem && may_be_plain) out.push_back(*stem);
  if (naming == SidecarNaming::plain) std::reverse(out.begin(), out.end());
  return out;
}

struct Candidates {
  std::vector<std::string> found;  // existing, in order of preference
  std::string fallback;            // for a new one; empty when no name has room
};

Result<Candidates> look(const std::string& path, SidecarNaming naming, bool may_be_plain, FileSystem& fs) {
  Candidates out;
  for (const std::string& base : bases_of(path, naming, may_be_plain)) {
    if (!has_room(base)) continue;
    if (out.fallback.empty()) out.fallback = base + ".xmp";
    const auto found = existing(base, fs);
    if (!found) return found.error();
    out.found.insert(out.found.end(), found->begin(), found->end());
  }
  return out;
}

// Where one photograph's sidecar goes. A place without a path: no name has room.
class Finder {
 public:
  Finder(const SidecarOptions& options, FileSystem& fs, FolderNamings& namings)
      : options_(options), fs_(fs), namings_(namings) {}

  Result<SidecarPlace> place_of(const std::string& photograph, bool may_be_plain) {
    const bool elsewhere = !options_.folder.empty();
    const auto path = elsewhere ? mirrored(photograph, options_) : Result<std::string>(photograph);
    if (!path) return path.error();
    const auto naming = naming_for(*path, photograph);
    if (!naming) return naming.error();
    auto there = look(*path, *naming, may_be_plain, fs_);
    if (!there) return there.error();
    SidecarPlace place{there->found.empty() ? there->fallback : there->found.front(), {}};
    if (!there->found.empty()) place.others.assign(there->found.begin() + 1, there->found.end());
    if (!elsewhere) return place;
    const auto beside = look(photograph, *naming, may_be_plain, fs_);
    if (!beside) return beside.error();
    place.others.insert(place.others.end(), beside->found.begin(), beside->found.end());
    return place;
  }

 private:
  Result<SidecarNaming> naming_for(const std::string& path, const std::string& photograph) {
    if (options_.naming != SidecarNaming::as_found) return options_.naming;
    return namings_.of(folder_of(path), folder_of(photograph), fs_);
  }

  const SidecarOptions& options_;
  FileSystem& fs_;
  FolderNamings& namings_;
};

Error no_room(const std::string& photograph) {
  return Error{Cause::unsupported, photograph, "its name is too long for a sidecar's (255 bytes)"};
}

}  // namespace

Result<std::vector<SidecarPlace>> sidecar_places(const Frame& frame, const SidecarOptions& options,
                                                 FileSystem& fs, FolderNamings& namings) {
  Finder finder(options, fs, namings);
  std::vector<SidecarPlace> out;
  const bool pair = frame.raw && frame.jpeg;
  auto main = finder.place_of(frame.main().path, true);
  if (!main) return main.error();
  if (main->path.empty()) return no_room(frame.main().path);
  out.push_back(std::move(*main));
  if (!pair) return out;

  // NAME.xmp belongs to the raw of the pair, when the two share a name.
  const bool same_stem = stem_of(frame.raw->path) == stem_of(frame.jpeg->path);
  auto second = finder.place_of(frame.jpeg->path, !same_stem);
  if (!second) return second.error();
  if (options.pairs == PairSharing::each) {
    if (second->path.empty()) return no_room(frame.jpeg->path);
    out.push_back(std::move(*second));
    return out;
  }
  auto& others = out.front().others;
  if (!second->path.empty()) {
    const auto there = fs.stat(second->path);
    if (!there) return there.error();
    if (*there && (*there)->type != FileType::folder) others.push_back(second->path);
  }
  others.insert(others.end(), second->others.begin(), second->others.end());
  return out;
}

Result<std::vector<SidecarPlace>> sidecar_places(const Frame& frame, const SidecarOptions& options,
                                                 FileSystem& fs) {
  FolderNamings namings;
  return sidecar_places(frame, options, fs, namings);
}

}  // namespace burstsieve
