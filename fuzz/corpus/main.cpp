// burstsieve-fuzz-corpus OUT [CAMERA-FOLDER...]: writes OUT/<target>/<case> for every hostile case and every
// seed of ours, and for each camera file in the folders what its maker note says.
#include <cstdio>
#include <filesystem>
#include <fstream>
#include <set>

#include "cases.h"

int main(int argc, char** argv) {
  namespace fs = std::filesystem;
  using namespace burstsieve::fuzz;
  if (argc < 2) {
    std::fprintf(stderr, "usage: burstsieve-fuzz-corpus OUT [CAMERA-FOLDER...]\n");
    return 2;
  }
  Cases all;
  for (const auto add : {add_maker_notes, add_jpegs, add_tiffs, add_mosaics, add_previews, add_containers,
                         add_records, add_pipe_records, add_sidecars, add_texts, add_own_seeds})
    add(all);
  for (int i = 2; i < argc; ++i)
    if (fs::is_directory(argv[i])) add_recorded_notes(argv[i], all);

  std::set<std::string> written;
  for (const Case& c : all) {
    const fs::path folder = fs::path(argv[1]) / c.target;
    std::error_code ignored;
    fs::create_directories(folder, ignored);
    const std::string path = (folder / c.name).string();
    std::ofstream out(path, std::ios::binary);
    out.write(reinterpret_cast<const char*>(c.bytes.data()), static_cast<std::streamsize>(c.bytes.size()));
    if (!out) {
      std::fprintf(stderr, "burstsieve-fuzz-corpus: %s: cannot be written\n", path.c_str());
      return 1;
    }
    written.insert(path);
  }
  std::printf("%zu inputs in %s\n", written.size(), argv[1]);
}
