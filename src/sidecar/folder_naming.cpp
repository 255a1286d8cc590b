#include <algorithm>
#include <set>

#include "burstsieve/base/text.h"
#include "burstsieve/sidecar/naming.h"

namespace burstsieve {

namespace {

// Beyond that a new sidecar may have to be plain to fit (sidecar_places).
constexpr std::size_t kFreeChoice = 200;

struct Votes {
  std::size_t with_extension = 0;
  std::size_t plain = 0;
};

Result<std::vector<std::string>> names_in(const std::string& folder, FileSystem& fs) {
  const auto there = fs.stat(folder);
  if (!there) return there.error();
  if (!*there) return std::vector<std::string>();  // a mirror that is yet to be made
  return fs.list(folder);
}

bool is_sidecar(const std::string& name) {
  return lower_ascii(name).ends_with(".xmp");
}

// Other files than sidecars, whatever they are: a stray note votes for nothing on its own.
class Photographs {
 public:
  explicit Photographs(const std::vector<std::string>& names) {
    for (const std::string& name : names) {
      const auto dot = name.rfind('.');
      if (is_sidecar(name) || dot == std::string::npos || dot == 0) continue;
      names_.insert(name);
      (is_jpeg(name) ? jpeg_stems_ : other_stems_).insert(name.substr(0, dot));
    }
  }

  bool has(const std::string& name) const { return names_.count(name) != 0; }
  bool has_stem(const std::string& stem) const {
    return jpeg_stems_.count(stem) != 0 || other_stems_.count(stem) != 0;
  }
  bool is_jpeg_of_pair(const std::string& name) const {
    return is_jpeg(name) && other_stems_.count(name.substr(0, name.rfind('.'))) != 0;
  }

 private:
  static bool is_jpeg(const std::string& name) {
    const std::string extension = lower_ascii(name.substr(name.rfind('.')));
    return extension == ".jpg" || extension == ".jpeg";
  }
  std::set<std::string> names_, jpeg_stems_, other_stems_;
};

Votes votes_of(const std::vector<std::string>& sidecars, const Photographs& photographs) {
  Votes out;
  for (const std::string& name : sidecars) {
    if (!is_sidecar(name) || name.size() > kFreeChoice) continue;
    const std::string base = name.substr(0, name.size() - 4);
    if (photographs.has(base))
      out.with_extension += !photographs.is_jpeg_of_pair(base);
    else
      out.plain += photographs.has_stem(base);
  }
  return out;
}

}  // namespace

Result<SidecarNaming> FolderNamings::of(const std::string& sidecars, const std::string& photographs,
                                        FileSystem& fs) {
  const auto known = known_.find({sidecars, photographs});
  if (known != known_.end()) return known->second;
  const auto beside = names_in(photographs, fs);
  if (!beside) return beside.error();
  const Photographs there(*beside);
  Votes votes;
  if (sidecars != photographs) {
    const auto mirror = names_in(sidecars, fs);
    if (!mirror) return mirror.error();
    votes = votes_of(*mirror, there);
  }
  if (votes.plain + votes.with_extension == 0) votes = votes_of(*beside, there);
  const auto naming =
      votes.plain > votes.with_extension ? SidecarNaming::plain : SidecarNaming::with_extension;
  known_.emplace(std::make_pair(sidecars, photographs), naming);
  return naming;
}

}  // namespace burstsieve
