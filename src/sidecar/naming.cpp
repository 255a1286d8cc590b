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

// `base` + ".xmp" in the spelling that exists, or nothing.
Result<std::optional<std::string>> existing(const std::string& base, FileSystem& fs) {
  static constexpr std::array<const char*, 3> suffixes{".xmp", ".XMP", ".Xmp"};
  for (const char* suffix : suffixes) {
    const auto found = fs.stat(base + suffix);
    if (!found) return found.error();
    if (*found) return std::optional<std::string>(base + suffix);
  }
  return std::optional<std::string>();
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
  std::string fallback;            // for a new one
};

Result<Candidates> look(const std::string& path, SidecarNaming naming, bool may_be_plain, FileSystem& fs) {
  Candidates out;
  const auto bases = bases_of(path, naming, may_be_plain);
  out.fallback = bases.front() + ".xmp";
  for (const std::string& base : bases) {
    auto found = existing(base, fs);
    if (!found) return found.error();
    if (*found) out.found.push_back(**found);
  }
  return out;
}

Result<SidecarPlace> place_of(const std::string& photograph, const SidecarOptions& options, bool may_be_plain,
                              FileSystem& fs) {
  auto beside = look(photograph, options.naming, may_be_plain, fs);
  if (!beside) return beside.error();
  SidecarPlace place;
  if (options.folder.empty()) {
    place.path = beside->found.empty() ? beside->fallback : beside->found.front();
    if (!beside->found.empty()) place.others.assign(beside->found.begin() + 1, beside->found.end());
    return place;
  }
  const auto mirror = mirrored(photograph, options);
  if (!mirror) return mirror.error();
  auto there = look(*mirror, options.naming, may_be_plain, fs);
  if (!there) return there.error();
  place.path = there->found.empty() ? there->fallback : there->found.front();
  if (!there->found.empty()) place.others.assign(there->found.begin() + 1, there->found.end());
  place.others.insert(place.others.end(), beside->found.begin(), beside->found.end());
  return place;
}

}  // namespace

Result<std::vector<SidecarPlace>> sidecar_places(const Frame& frame, const SidecarOptions& options,
                                                 FileSystem& fs) {
  std::vector<SidecarPlace> out;
  const bool pair = frame.raw && frame.jpeg;
  auto main = place_of(frame.main().path, options, true, fs);
  if (!main) return main.error();
  out.push_back(std::move(*main));
  if (!pair) return out;

  // NAME.xmp belongs to the raw of the pair, when the two share a name.
  const bool same_stem = stem_of(frame.raw->path) == stem_of(frame.jpeg->path);
  auto second = place_of(frame.jpeg->path, options, !same_stem, fs);
  if (!second) return second.error();
  if (options.pairs == PairSharing::each) {
    out.push_back(std::move(*second));
    return out;
  }
  const auto there = fs.stat(second->path);
  if (!there) return there.error();
  if (*there) out.front().others.push_back(second->path);
  out.front().others.insert(out.front().others.end(), second->others.begin(), second->others.end());
  return out;
}

}  // namespace burstsieve
