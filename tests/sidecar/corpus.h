// Many sidecars of others, each merged twice and taken back, while libraries and programs that share no code
// with ours watch everything that is not ours: exiv2 and exempi on every visit, exiftool and xmllint
// (libxml2) over all files together, which saves their start-up.
#pragma once
#include <map>
#include <string>
#include <vector>

namespace burstsieve::test {

struct CorpusOutcome {
  std::vector<std::string> merged, human, refused;  // names; for refused "NAME: reason"
  // Merged ones that a library can't read as they came, so that it saw nothing.
  std::vector<std::string> unseen_by_exiv2, unseen_by_exempi;
};

// `files`: name to bytes. Checks by doctest; the caller checks which file had which outcome.
CorpusOutcome visit_all(const std::map<std::string, std::string>& files);

// The files *.xmp directly in a folder, by name without suffix.
std::map<std::string, std::string> sidecars_in(const std::string& folder);

}  // namespace burstsieve::test
