// A folder that goes away with the test, and the output of an outside program.
#pragma once
#include <unistd.h>

#include <array>
#include <cstdio>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <string>

#include "files.h"

namespace scratch {

class Folder {
 public:
  Folder() {
    std::string name = (std::filesystem::temp_directory_path() / "generate-test-XXXXXX").string();
    path_ = mkdtemp(name.data());
  }
  ~Folder() {
    std::error_code ignored;
    std::filesystem::remove_all(path_, ignored);
  }
  Folder(const Folder&) = delete;
  Folder& operator=(const Folder&) = delete;
  std::string operator/(const std::string& name) const { return (path_ / name).string(); }
  std::string path() const { return path_.string(); }

 private:
  std::filesystem::path path_;
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
