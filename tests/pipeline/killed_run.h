// A card whose culls are killed, and what must hold of it afterwards.
#pragma once
#include <algorithm>
#include <nlohmann/json.hpp>
#include <set>
#include <sstream>
#include <string>
#include <vector>

#include "base/process.h"
#include "base/temp_folder.h"
#include "burstsieve/base/version.h"
#include "burstsieve/pipeline/cull.h"
#include "burstsieve/pipeline/undo.h"
#include "catalog/opened.h"
#include "pipeline/small_set.h"

namespace burstsieve::test {

// What a cull that nobody disturbed leaves.
struct Undisturbed {
  Files files;
  std::map<std::string, FrameVerdict> verdicts;  // by path below the card
};

inline std::map<std::string, FrameVerdict> verdicts_of(const std::string& catalog, const std::string& card) {
  std::map<std::string, FrameVerdict> out;
  Catalog c = opened(catalog, kEngineVersion);
  for (PathVerdict& v : c.verdicts_below("")) {
    REQUIRE(v.path.starts_with(card + "/"));
    out[v.path.substr(card.size() + 1)] = std::move(v.verdict);
  }
  CHECK(c.take_notes().empty());
  return out;
}

class KilledRun {
 public:
  KilledRun() { put_back(); }

  // The card as before any run, no catalogue.
  void put_back() {
    forget();
    put_files(small_set(), card());
  }
  // Everything as it is now, card and catalogue; no process may have it open.
  Files snapshot() const { return files_below(folder_.path); }
  void put_back(const Files& earlier) {
    forget();
    put_files(earlier, folder_.path);
  }

  std::string card() const { return real_folder() + "/card"; }
  std::string catalog() const { return real_folder() + "/catalog.sqlite"; }

  // The exit code, or minus the signal; `kill_after` < 0: left to end by itself.
  int run(std::vector<std::string> words,
          std::chrono::microseconds kill_after = std::chrono::microseconds(-1)) {
    Process p(std::move(words), folder_.path, folder_.at("out"), folder_.at("err"));
    if (kill_after.count() >= 0) {
      std::this_thread::sleep_for(kill_after);
      p.kill_now();
    }
    const int code = p.wait();
    const auto left = left_after_a_second(p.pid(), catalog());
    CHECK_MESSAGE(left.empty(), "still running: " << (left.empty() ? "" : left.front()));
    return code;
  }
  std::vector<std::string> cull_words() const {
    return {BURSTSIEVE_PROGRAM, "cull", "--json", "--catalog", catalog(), card()};
  }
  std::vector<std::string> undo_words() const { return {BURSTSIEVE_PROGRAM, "undo", "--catalog", catalog()}; }
  std::string output() const { return folder_.read("out"); }
  std::string complaints() const { return folder_.read("err"); }

  // Whole files everywhere; originals untouched; nothing but sidecars and temporary files is new.
  void check_files(const Undisturbed& whole) const {
    const Files now = files_below(card());
    for (const auto& [name, bytes] : small_set())
      if (!is_sidecar(name)) CHECK_MESSAGE((now.count(name) && now.at(name) == bytes), name);
    for (const auto& [name, bytes] : now) {
      if (!is_sidecar(name)) {
        const bool temporary = leaf_of(name).starts_with(".burstsieve-");
        CHECK_MESSAGE((small_set().count(name) || temporary), name);
        continue;
      }
      const auto old = small_set().find(name);
      const bool is_old = old != small_set().end() && bytes == old->second;
      CHECK_MESSAGE((is_old || (whole.files.count(name) && bytes == whole.files.at(name))), name);
    }
    for (const auto& [name, bytes] : small_set()) CHECK_MESSAGE(now.count(name), name);
  }

  // Of the bursts that the run had told of: the measures are in the catalogue, the sidecars as meant.
  void check_acknowledged(const Undisturbed& whole) const {
    if (!std::filesystem::exists(catalog())) return;
    Catalog c = opened(catalog(), kEngineVersion);
    std::istringstream lines(output());
    for (std::string line; std::getline(lines, line) && !lines.eof();) {
      const auto burst = nlohmann::json::parse(line, nullptr, false);
      if (!burst.is_object() || burst.value("type", "") != "burst") continue;
      for (const auto& frame : burst["frames"]) {
        const std::string path = frame.contains("raw") ? frame["raw"]["path"] : frame["jpeg"]["path"];
        const auto known = c.explain(path);
        CHECK_MESSAGE((known && known->facts), path);
        for (const auto& sidecar : frame["sidecars"]) {
          const std::string name = sidecar["path"].get<std::string>().substr(card().size() + 1);
          std::ifstream in(card() + "/" + name, std::ios::binary);
          const std::string bytes{std::istreambuf_iterator<char>(in), {}};
          CHECK_MESSAGE(bytes == whole.files.at(name), name);
        }
      }
    }
    CHECK(c.take_notes().empty());
  }

  // After a cull that ended.
  void check_ended(const Undisturbed& whole) const {
    CHECK((files_below(card()) == whole.files));  // no temporary file either
    CHECK((verdicts_of(catalog(), card()) == whole.verdicts));
  }

  // Takes every run back, the last first, and finds the card as it was before the first.
  void check_undo() const {
    Catalog c = opened(catalog(), kEngineVersion);
    RealFileSystem fs;
    auto runs = c.history();
    std::reverse(runs.begin(), runs.end());
    for (const RunHistory& h : runs) {
      const auto done =
          pipeline::undo({h.run.id, false}, c, fs, [](const Error& e) { FAIL_CHECK(e.line()); });
      CHECK_MESSAGE(done, done.error().line());
    }
    CHECK((files_below(card()) == small_set()));
    CHECK(c.take_notes().empty());
  }

 private:
  void forget() {
    std::filesystem::remove_all(card());
    for (const char* end : {"", "-wal", "-shm", "-journal"}) std::filesystem::remove(catalog() + end);
  }
  // As the system names it: the journal resolves links.
  std::string real_folder() const { return std::filesystem::canonical(folder_.path).string(); }
  TempFolder folder_{in_memory()};
};

// By the real program, once.
inline const Undisturbed& undisturbed() {
  static const Undisturbed whole = [] {
    KilledRun r;
    REQUIRE(r.run(r.cull_words()) == 0);
    REQUIRE(r.complaints().empty());
    Undisturbed out{files_below(r.card()), verdicts_of(r.catalog(), r.card())};
    // Otherwise the tests below would hold for nothing.
    REQUIRE(out.verdicts.size() == 12);
    REQUIRE(out.files != small_set());
    return out;
  }();
  return whole;
}

}  // namespace burstsieve::test
