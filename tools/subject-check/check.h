// A folder of pictures held against a truth file.
#pragma once
#include <string>
#include <vector>

#include "look.h"
#include "truth_file.h"

namespace burstsieve::subject_check {

struct Scored {
  std::string source;
  Score score;
};

struct Shown {
  std::string name;
  std::vector<Region> truth;
  Looked looked;
  bool right = false;  // the first subject is one of the animals; nothing is said of a picture without any
};

struct Check {
  int pictures = 0;
  std::vector<Scored> finders;       // in the order they were asked, kFused, then "first subject"
  std::vector<std::string> missed;   // pictures whose first subject is no animal of theirs
  std::vector<Error> errors;         // lines and pictures that were passed over
  std::vector<Shown> shown;          // with CheckOptions::view
  std::vector<std::string> credits;  // of the truth file
};

inline const std::string kFirst = "first subject";

struct CheckOptions {
  subject::DetectorPool* detectors = nullptr;
  int view = 0;  // px of the views in Check::shown; 0: none
};

// Error: the truth file can't be read.
Result<Check> check(const std::string& folder, const std::string& truth_path,
                    const CheckOptions& options = {});
// Null when nobody of that name was asked.
const Score* score_of(const Check& check, const std::string& source);

}  // namespace burstsieve::subject_check
