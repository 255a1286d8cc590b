// A folder that goes away with the test, and the output of an outside program.
#pragma once
#include <unistd.h>

#include <array>
#include <cstdio>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <string>

#include "base/temp_folder.h"
#include "files.h"

namespace scratch {

struct Folder : burstsieve::test::TempFolder {
  std::string operator/(const std::string& name) const { return at(name); }
};

inline std::string output_of(const std::string& command) {
  std::string text;
  if (FILE* pipe = popen((command + " 2>/dev/null").c_str(), "r")) {
    std::array<char, 65536> chunk;
    for (std::size_t n; (n = fread(chunk.data(), 1, chunk.size(), pipe)) > 0;) text.append(chunk.data(), n);
    pclose(pipe);
  }
  return text;
}

inline bool program_exists(const std::string& name) {
  return !output_of("command -v " + name).empty();
}

inline burstsieve::generate::ByteBuffer bytes_of(const std::string& path) {
  std::ifstream file(path, std::ios::binary);
  return {std::istreambuf_iterator<char>(file), {}};
}

}  // namespace scratch
