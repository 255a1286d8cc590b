// A small card for tests that run the program hundreds of times: three bursts, rendered once per process.
// The second is raw+JPEG pairs; some frames have sidecars of other programs already, one a person's rating.
#pragma once
#include <doctest/doctest.h>

#include <filesystem>
#include <map>
#include <string>

#include "frame.h"
#include "plan.h"
#include "sidecar/helpers.h"

namespace burstsieve::test {

using Files = std::map<std::string, std::string>;  // relative path -> contents

inline bool is_sidecar(const std::string& name) {
  return name.ends_with(".xmp");
}

inline Files render_small_set() {
  Files out;
  auto bursts = generate::plan({"season", 3, 4, 300, 200, 3, generate::Format::jpeg, true, false});
  REQUIRE(bursts.size() == 3);
  bursts[1].format = generate::Format::pair;
  for (const auto& burst : bursts)
    for (const auto& spec : burst.frames) {
      auto frame = generate::render_frame(burst, spec);
      for (const auto& file : generate::photograph(burst, spec, frame))
        out[file.name].assign(file.bytes.begin(), file.bytes.end());
    }
  int n = 0;
  for (const auto& [name, bytes] : Files(out)) {
    if (!name.ends_with(".JPG") || n++ % 3 != 0) continue;
    // Of the foreign ones: a title, a person's word, nothing at all, and a rating that is none.
    switch (n / 3 % 4) {
      case 0:
        out[name + ".xmp"] = packet(
            "  <rdf:Description rdf:about=\"\" "
            "xmlns:dc=\"http://purl.org/dc/elements/1.1/\" dc:format=\"image/jpeg\"/>");
        break;
      case 1:
        out[name + ".xmp"] = rated("4");
        break;
      case 2:
        out[name + ".xmp"] = "";
        break;
      default:
        out[name + ".xmp"] = rated("0");
    }
  }
  return out;
}

// As on the card before any run.
inline const Files& small_set() {
  static const Files files = render_small_set();
  return files;
}

inline void put_files(const Files& files, const std::string& folder) {
  for (const auto& [name, bytes] : files) {
    const auto path = std::filesystem::path(folder) / name;
    std::filesystem::create_directories(path.parent_path());
    std::ofstream(path, std::ios::binary) << bytes;
  }
}

// Everything below, also what should not be there.
inline Files files_below(const std::string& folder) {
  Files out;
  for (const auto& e : std::filesystem::recursive_directory_iterator(folder)) {
    if (!e.is_regular_file()) continue;
    std::ifstream in(e.path(), std::ios::binary);
    out[std::filesystem::relative(e.path(), folder).string()] = {std::istreambuf_iterator<char>(in), {}};
  }
  return out;
}

}  // namespace burstsieve::test
