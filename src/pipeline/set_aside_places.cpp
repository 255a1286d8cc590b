#include "set_aside_places.h"

#include <fmt/format.h>

#include <algorithm>
#include <filesystem>
#include <utility>

#include "burstsieve/base/text.h"

namespace burstsieve::pipeline {

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

namespace {

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

}  // namespace

Result<std::vector<std::string>> last_culled(Catalog& catalog) {
  const auto runs = catalog.runs();
  for (auto run = runs.rbegin(); run != runs.rend(); ++run)
    if (run->options != "dry run" && !run->options.starts_with("set aside")) return places_of(*run, catalog);
  return Error{Cause::unsupported, {}, "nothing was culled yet: name the folders to set aside from"};
}

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

}  // namespace burstsieve::pipeline
