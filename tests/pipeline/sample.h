// Runs the engine over a copy of the sample bursts and keeps what it said.
#pragma once
#include <filesystem>
#include <map>
#include <string>
#include <vector>

#include "base/temp_folder.h"
#include "burstsieve/base/version.h"
#include "burstsieve/pipeline/cull.h"
#include "burstsieve/report/json.h"

namespace burstsieve::test {

inline std::string sample_source() {
  return std::string(BURSTSIEVE_SOURCE_DIR) + "/sample-bursts";
}

// Everything the run told, in order.
struct Recorder : pipeline::Listener {
  void found(const ScanCounts&, std::size_t, std::size_t frames) override { frames_found = frames; }
  void progress(std::size_t done, std::size_t total) override {
    progress_ok = progress_ok && done >= last_done && done <= total;
    last_done = done;
    last_total = total;
  }
  void burst(const BurstOutcome& outcome) override { bursts.push_back(outcome); }
  void error(const Error& e) override { errors.push_back(e); }
  void note(const Error& e) override { notes.push_back(e); }

  // The outcome of the frame whose main file has this name.
  const FrameOutcome* frame(const std::string& name) const {
    for (const BurstOutcome& b : bursts)
      for (const FrameOutcome& f : b.frames)
        if (leaf_of(f.frame.main().path) == name) return &f;
    return nullptr;
  }
  // Everything that must not depend on threads or earlier runs, as text.
  std::string text() const {
    std::string out;
    for (const BurstOutcome& b : bursts) out += report::burst_json(b) + "\n";
    return out;
  }

  std::vector<BurstOutcome> bursts;
  std::vector<Error> errors, notes;
  std::size_t frames_found = 0, last_done = 0, last_total = 0;
  bool progress_ok = true;
};

// A copy of the samples with a catalogue of its own.
struct SampleFolder {
  explicit SampleFolder(bool copy = true) {
    if (copy)
      std::filesystem::copy(sample_source() + "/DCIM", folder.at("DCIM"),
                            std::filesystem::copy_options::recursive);
  }

  RunSummary cull(Recorder& recorder, pipeline::CullOptions options = {},
                  const std::string& catalog_name = "catalog.sqlite") {
    if (options.places.empty()) options.places = {folder.at("DCIM")};
    auto catalog = Catalog::open(folder.at(catalog_name), kEngineVersion);
    if (!catalog) throw std::runtime_error(catalog.error().line());
    RealFileSystem fs;
    ManualClock clock(1'790'000'000'000);
    auto summary = pipeline::cull(options, *catalog, fs, clock, recorder);
    if (!summary) throw std::runtime_error(summary.error().line());
    return *summary;
  }

  // Contents of every file below, by relative path.
  std::map<std::string, std::string> contents(bool sidecars) const {
    std::map<std::string, std::string> out;
    for (const auto& e : std::filesystem::recursive_directory_iterator(folder.at("DCIM"))) {
      if (!e.is_regular_file() || (e.path().extension() == ".xmp") != sidecars) continue;
      const std::string name = std::filesystem::relative(e.path(), folder.path).string();
      out[name] = folder.read(name);
    }
    return out;
  }

  TempFolder folder;
};

}  // namespace burstsieve::test
