// What belongs to a frame on the disk, and what its sidecars say at this moment.
#pragma once
#include <map>
#include <optional>
#include <set>
#include <string>
#include <utility>
#include <vector>

#include "burstsieve/base/file_system.h"
#include "burstsieve/model/frame.h"
#include "burstsieve/pipeline/set_aside.h"

namespace burstsieve::pipeline {

struct Belonging {
  std::string path, root;
  std::string to;  // relative to the folder it is set aside to
  bool sidecar = false;
  const FileRef* photograph = nullptr;  // as scanned; nothing for a sidecar
  std::optional<FileStat> read;         // of a sidecar, when its word was read
};

enum class Word {
  none,             // nobody rejects it
  stays_by_person,  // a person's rating, or their clearing of ours
  ours,             // we reject it
  person,           // a person rejects it
};

struct Examined {
  Word word = Word::none;
  std::optional<Error> trouble;         // rejected, or perhaps: but it can't be moved
  std::vector<Belonging> files;         // the main photograph first, sidecars last
  std::vector<std::string> companions;  // share the name, and stay
  bool rejected() const { return word == Word::ours || word == Word::person; }
};

class FrameExaminer {
 public:
  FrameExaminer(const SetAsideJob& job, const std::vector<Burst>& bursts, FileSystem& fs);
  Examined examine(const Frame& frame);

 private:
  struct Names {
    std::multimap<std::string, std::string> by_stem;  // name up to its first dot, lower case → name
    std::optional<Error> error;
  };
  const Names& names_in(const std::string& folder);
  std::vector<std::string> named_like(const std::string& path);
  Status add_photograph(const FileRef& file, Examined& out);
  Status add_sidecars(const FileRef& file, Examined& out, std::set<std::string>& known);
  Status check_shared(const Frame& frame, const Examined& out) const;
  Status check_targets(const Examined& out);
  Status read_word(const Frame& frame, Examined& out);
  Result<Belonging> belonging(const std::string& path) const;

  const SetAsideJob& job_;
  FileSystem& fs_;
  std::map<std::string, Names> folders_;
  std::map<std::string, std::vector<std::string>> by_stem_;  // path without extension → photographs
};

}  // namespace burstsieve::pipeline
