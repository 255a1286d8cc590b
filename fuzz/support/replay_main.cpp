// Runs a fuzz target over files without a fuzzer, for the ordinary tests.
//
//   fuzz_NAME [--expect TABLE] PATH...     each PATH a file, or a folder whose files are taken, to any depth
//
// TABLE names hostile cases and what must come of them, one per line: "af-grid-zero-wide.bin  no area". A
// case that comes out differently, or is not there, is a failure. A file that stops the process is named
// first.
#include <fcntl.h>
#include <signal.h>
#include <sys/resource.h>
#include <unistd.h>

#include <algorithm>
#include <cstdio>
#include <cstring>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <map>
#include <string>
#include <vector>

#include "target.h"

namespace {

namespace fs = std::filesystem;
using burstsieve::ByteBuffer;

std::string present;  // the file being run, for the signal handler

void say_which(int signal_number) {
  const char lead[] = "replay: died of ";
  static_cast<void>(!::write(2, lead, sizeof lead - 1));
  static_cast<void>(!::write(2, present.data(), present.size()));
  static_cast<void>(!::write(2, "\n", 1));
  ::signal(signal_number, SIG_DFL);
  ::raise(signal_number);
}

ByteBuffer contents(const std::string& path) {
  std::ifstream in(path, std::ios::binary);
  return ByteBuffer(std::istreambuf_iterator<char>(in), std::istreambuf_iterator<char>());
}

std::vector<std::string> files_of(const std::vector<std::string>& places) {
  std::vector<std::string> out;
  for (const std::string& place : places) {
    if (fs::is_regular_file(place)) out.push_back(place);
    if (!fs::is_directory(place)) continue;
    for (const auto& entry : fs::recursive_directory_iterator(place))
      if (entry.is_regular_file()) out.push_back(entry.path().string());
  }
  std::sort(out.begin(), out.end());
  return out;
}

using Table = std::map<std::string, std::string>;  // case to outcome

Table read_table(const std::string& path) {
  Table out;
  std::ifstream in(path);
  for (std::string line; std::getline(in, line);) {
    const auto end = line.find(' ');
    if (line.empty() || line[0] == '#' || end == std::string::npos) continue;
    out[line.substr(0, end)] = line.substr(line.find_first_not_of(' ', end));
  }
  return out;
}

// A damaged file must not cost more memory than a large photograph; the sanitizers map more than that.
void bound_memory() {
#if !defined(__SANITIZE_ADDRESS__)
  const rlim_t most = rlim_t{3} << 30;
  const rlimit limit{most, most};
  ::setrlimit(RLIMIT_AS, &limit);
#endif
}

}  // namespace

int main(int argc, char** argv) {
  Table expected;
  std::vector<std::string> places;
  for (int i = 1; i < argc; ++i) {
    if (std::strcmp(argv[i], "--expect") == 0 && i + 1 < argc)
      expected = read_table(argv[++i]);
    else
      places.emplace_back(argv[i]);
  }
  if (argc > 2 && std::strcmp(argv[1], "--expect") == 0 && expected.size() < 8) {
    std::fprintf(stderr, "replay: %s: fewer than eight hostile cases\n", argv[2]);
    return 1;
  }
  bound_memory();
#if !defined(__SANITIZE_ADDRESS__)
  for (const int s : {SIGSEGV, SIGBUS, SIGFPE, SIGILL}) ::signal(s, say_which);
#endif
  ::signal(SIGABRT, say_which);

  int bad = 0;
  Table left = expected;
  const auto files = files_of(places);
  for (const std::string& file : files) {
    const ByteBuffer bytes = contents(file);
    present = file;
    LLVMFuzzerTestOneInput(bytes.data(), bytes.size());
    const std::string outcome = burstsieve::fuzz::take_outcome();
    const std::string name = fs::path(file).filename().string();
    const auto wanted = left.find(name);
    if (wanted == left.end()) continue;
    if (wanted->second != outcome) {
      std::fprintf(stderr, "replay: %s: expected '%s', came out '%s'\n", name.c_str(), wanted->second.c_str(),
                   outcome.c_str());
      ++bad;
    }
    left.erase(wanted);
  }
  for (const auto& [name, outcome] : left) {
    std::fprintf(stderr, "replay: %s is in the table but not in the corpus\n", name.c_str());
    ++bad;
  }
  std::printf("%zu inputs, %zu with an expectation, %d wrong\n", files.size(), expected.size(), bad);
  return files.empty() || bad > 0 ? 1 : 0;
}
