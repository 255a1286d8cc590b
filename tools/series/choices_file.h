// People's choices between photographs of a series, as plain text.
#pragma once
#include <map>
#include <string>
#include <string_view>
#include <vector>

#include "burstsieve/base/result.h"

namespace burstsieve::series {

// For --help.
extern const char* const kChoicesFormat;

struct PairChoice {
  int line = 0;      // 1-based
  std::string a, b;  // paths below the folder
  double share = 0;  // 0..1 of the people who preferred a
  int votes = 0;     // how many were asked; 0: the file does not say
};

struct ChoicesFile {
  std::map<std::string, std::vector<PairChoice>> series;  // by name
  std::vector<Error> errors;                              // of lines that make no sense; they are passed over
};

// `path`: for the errors, "choices.txt:12".
ChoicesFile parse_choices(std::string_view text, const std::string& path);

}  // namespace burstsieve::series
