// burstsieve-mutate: copies photographs, breaks the copies, and writes down what is broken.
#include <fmt/format.h>

#include <CLI/CLI.hpp>
#include <filesystem>
#include <fstream>

#include "burstsieve/base/file_system.h"
#include "burstsieve/base/limits.h"
#include "burstsieve/base/text.h"
#include "mutate.h"

namespace {

namespace fs = std::filesystem;
using namespace burstsieve;
using namespace burstsieve::mutate;

constexpr std::uint64_t kPerFolder = 1000;

struct Source {
  std::string path;
  ByteBuffer bytes;
  PictureMap map;
};

Result<std::vector<Source>> read_sources(const std::vector<std::string>& paths) {
  RealFileSystem files;
  std::vector<Source> out;
  for (const std::string& path : paths) {
    auto bytes = files.read_file(path, Limits{}.max_file_bytes);
    if (!bytes) return bytes.error();
    PictureMap map = map_of(*bytes);
    out.push_back({path, std::move(*bytes), std::move(map)});
  }
  return out;
}

// Only into a folder of its own: photographs are never written over.
Status prepare(const std::string& folder) {
  std::error_code problem;
  fs::create_directories(folder, problem);
  if (problem) return Error{Cause::io, folder, problem.message()};
  if (!fs::is_empty(folder, problem)) return Error{Cause::io, folder, "is not an empty folder"};
  return Done{};
}

Status write(const std::string& path, const ByteBuffer& bytes) {
  std::error_code ignored;
  fs::create_directories(folder_of(path), ignored);
  std::ofstream out(path, std::ios::binary);
  out.write(reinterpret_cast<const char*>(bytes.data()), static_cast<std::streamsize>(bytes.size()));
  out.close();
  if (!out) return Error{Cause::io, path, "cannot be written"};
  return Done{};
}

Status run(const std::string& folder, const std::vector<std::string>& paths, std::uint64_t count,
           std::uint64_t seed) {
  if (auto s = prepare(folder); !s) return s.error();
  const auto sources = read_sources(paths);
  if (!sources) return sources.error();
  std::string truth = "file\ttouches_picture\tsource\tdamage\n";
  std::uint64_t touched = 0;
  for (std::uint64_t i = 0; i < count; ++i) {
    const Source& source = (*sources)[i % sources->size()];
    const Source& donor = (*sources)[(i / sources->size() + i + 1) % sources->size()];
    const Mutation mutation = plan(source.bytes, source.map, donor.bytes.size(), seed * 1'000'003 + i);
    const ByteBuffer broken = apply(mutation, source.bytes, donor.bytes);
    const bool touches = touches_picture(source.map, source.bytes, broken);
    touched += touches;
    const std::string name =
        fmt::format("{:03}/{:06}{}", i / kPerFolder, i, fs::path(source.path).extension().string());
    if (auto s = write(folder + "/" + name, broken); !s) return s.error();
    truth += fmt::format("{}\t{}\t{}\t{}\n", name, touches ? 1 : 0, one_line(leaf_of(source.path)),
                         describe(mutation));
  }
  if (auto s = write(folder + "/truth.tsv", ByteBuffer(truth.begin(), truth.end())); !s) return s.error();
  fmt::print("{} files in {}, the picture touched in {}\n", count, folder, touched);
  return Done{};
}

}  // namespace

int main(int argc, char** argv) {
  CLI::App app{
      "Writes damaged copies of photographs, and truth.tsv: file, whether its picture data are touched (1 or "
      "0), "
      "source, damage."};
  std::string folder;
  std::vector<std::string> files;
  std::uint64_t count = 1000;
  std::uint64_t seed = 1;
  app.add_option("OUT", folder, "Folder to write to; must be new or empty")->required();
  app.add_option("FILE", files, "Photographs to damage copies of, taken in turn")->required();
  app.add_option("--count", count, "Number of damaged files")
      ->check(CLI::Range(1, 10'000'000))
      ->capture_default_str();
  app.add_option("--seed", seed, "The same seed and files give the same bytes")->capture_default_str();
  CLI11_PARSE(app, argc, argv);
  if (const Status done = run(folder, files, count, seed); !done) {
    fmt::print(stderr, "burstsieve-mutate: {}\n", done.error().line());
    return 1;
  }
  return 0;
}
