// set-aside, stopped at every step, by a kill or a power cut: no file is ever without a whole copy, the next
// call puts things in order, and the way back restores exactly.
#include <doctest/doctest.h>

#include <set>

#include "base/two_disks.h"
#include "burstsieve/pipeline/set_aside.h"
#include "pipeline/aside_recorder.h"
#include "sidecar/helpers.h"

using namespace burstsieve;
using pipeline::SetAsideJob;
using pipeline::SetAsideSummary;
using test::Fault;
using test::TwoDisks;

namespace {

using Quiet = test::AsideRecorder;

constexpr std::uint64_t kPrint = 0x0123456789abcdef;  // the key in entry_with()

ByteBuffer ours(std::optional<int> rating) {
  const auto merged = merge({}, test::entry_with(rating));
  REQUIRE(merged);
  return merged->bytes;
}

struct Original {
  ByteBuffer bytes;
  std::int64_t mtime_ns;
  std::uint32_t mode;
  std::string to;  // where it is set aside to; empty: it stays
};

// A pair with a copy and two sidecars that we reject, a JPEG that a person rejects, one that stays.
std::map<std::string, Original> originals(const std::string& dir) {
  const std::string in = "/card/DCIM/100HARBR/", out = dir + "/100HARBR/", copy = "/card/DCIM/COPY%/";
  return {
      {in + "MRS_0001.DNG",
       {test::bytes_of("raw 1, long enough to be cut"), 1001, 0644, out + "MRS_0001.DNG"}},
      {in + "MRS_0001.JPG", {test::bytes_of("jpeg 1"), 1002, 0600, out + "MRS_0001.JPG"}},
      {in + "MRS_0001.DNG.xmp", {ours(-1), 1003, 0640, out + "MRS_0001.DNG.xmp"}},
      {in + "MRS_0001.xmp", {test::bytes_of(test::packet("")), 1004, 0644, out + "MRS_0001.xmp"}},
      {in + "MRS_0001.WAV", {test::bytes_of("a gull"), 1005, 0644, ""}},
      {copy + "MRS\xff.DNG",
       {test::bytes_of("raw 1, long enough to be cut"), 1006, 0644, dir + "/COPY%/MRS\xff.DNG"}},
      {in + "MRS_0002.JPG", {test::bytes_of("jpeg 2"), 1007, 0444, out + "MRS_0002.JPG"}},
      {in + "MRS_0002.JPG.XMP", {test::bytes_of(test::rated("-1")), 1008, 0644, out + "MRS_0002.JPG.XMP"}},
      {in + "MRS_0003.JPG", {test::bytes_of("jpeg 3"), 1009, 0644, ""}},
  };
}

std::unique_ptr<TwoDisks> filled(const std::string& dir) {
  auto fs = std::make_unique<TwoDisks>();
  for (const auto& [path, o] : originals(dir)) fs->put(path, o.bytes, o.mtime_ns, o.mode);
  REQUIRE(make_folders(*fs, dir, 0755));
  REQUIRE(fs->sync_folder("/disk"));
  REQUIRE(fs->sync_folder("/card"));
  fs->operations = 0;
  return fs;
}

// As a scan would find them.
std::vector<Burst> bursts_in(FileSystem& fs, const std::string& dir) {
  const auto all = originals(dir);
  const auto ref = [&](const std::string& path, FileKind kind) -> std::optional<FileRef> {
    const auto there = fs.stat(path);
    if (!there || !*there) return std::nullopt;
    return FileRef{path, kind, "", all.at(path).bytes.size(), all.at(path).mtime_ns, kPrint};
  };
  const std::string in = "/card/DCIM/100HARBR/";
  Burst burst;
  Frame pair;
  pair.raw = ref(in + "MRS_0001.DNG", FileKind::raw);
  pair.jpeg = ref(in + "MRS_0001.JPG", FileKind::jpeg);
  if (const auto copy = ref("/card/DCIM/COPY%/MRS\xff.DNG", FileKind::raw)) pair.copies.push_back(*copy);
  if (pair.raw || pair.jpeg) burst.frames.push_back(pair);
  for (const char* name : {"MRS_0002.JPG", "MRS_0003.JPG"}) {
    Frame f;
    f.jpeg = ref(in + name, FileKind::jpeg);
    if (f.jpeg) burst.frames.push_back(f);
  }
  return {burst};
}

SetAsideJob job_to(const std::string& dir) {
  SetAsideJob job;
  job.dir = dir;
  job.roots = {{"/card/DCIM", ""}};
  job.run = 7;
  return job;
}

// What the command does, with its scan.
Result<SetAsideSummary> set_aside(FileSystem& fs, const std::string& dir, Quiet& told) {
  ManualClock clock(1'790'000'000'000);
  SetAsideSummary before;
  if (auto s = pipeline::settle_set_aside(dir, fs, clock, told, before); !s) return s.error();
  return pipeline::set_aside_bursts(job_to(dir), bursts_in(fs, dir), fs, clock, told);
}

Result<SetAsideSummary> set_back(FileSystem& fs, const std::string& dir, Quiet& told) {
  ManualClock clock(1'790'000'000'000);
  return pipeline::set_back(dir, false, 8, fs, clock, told);
}

// Every file has a whole copy, and no file at either place is anything else.
bool nothing_lost(const TwoDisks& fs, const std::string& dir) {
  const auto files = fs.files();
  for (const auto& [from, o] : originals(dir)) {
    bool whole = false;
    for (const std::string& path : {from, o.to}) {
      const auto it = files.find(path);
      if (it == files.end()) continue;
      if (it->second.live != o.bytes) return false;
      whole = true;
    }
    if (!whole) return false;
  }
  return true;
}

// Names, bytes, times and permissions; nothing else but the manifest, and nothing of ours lying about.
std::string differences(const TwoDisks& fs, const std::string& dir, bool aside, bool exactly = true) {
  std::string out;
  auto files = fs.files();
  for (const auto& [from, o] : originals(dir)) {
    const std::string& path = aside && !o.to.empty() ? o.to : from;
    const auto it = files.find(path);
    if (it == files.end()) {
      out += path + " is missing; ";
      continue;
    }
    if (it->second.live != o.bytes) out += path + " has other bytes; ";
    if (exactly && it->second.stat.mtime_ns != o.mtime_ns) out += path + " has another time; ";
    if (exactly && it->second.stat.mode != o.mode) out += path + " has other permissions; ";
    files.erase(it);
  }
  // Written when the manifest is made; ends with it, or is left by a crash at that moment.
  files.erase(dir + "/set-aside.jsonl");
  for (const auto& [path, node] : files)
    if (folder_of(path) != dir || !leaf_of(path).starts_with(".burstsieve-")) out += path + " is left over; ";
  return out;
}

// One that the next runs need not repeat for each of them, since it is the same.
class Seen {
 public:
  bool fresh(const TwoDisks& fs) {
    std::string key;
    for (const auto& [path, node] : fs.files())
      key += path + "=" + test::text_of(node.live) + "@" + std::to_string(node.stat.mtime_ns) + ";";
    return keys_.insert(key).second;
  }

 private:
  std::set<std::string> keys_;
};

const std::string kFar = "/disk/aside", kNear = "/card/aside";

}  // namespace

TEST_SUITE("pipeline/set_aside: crashes") {
  TEST_CASE("whole frames go, with copies and sidecars, and come back exactly") {
    for (const std::string& dir : {kFar, kNear}) {
      CAPTURE(dir);
      const auto fs = filled(dir);
      Quiet told;
      const auto done = set_aside(*fs, dir, told);
      REQUIRE_MESSAGE(done, done.error().line());
      CHECK(told.errors.empty());
      CHECK(done->frames == 2);
      CHECK(done->files == 7);
      CHECK(differences(*fs, dir, true) == "");
      REQUIRE(told.notes.size() == 1);
      CHECK(told.notes[0].find("MRS_0001.WAV: stays") != std::string::npos);
      const auto back = set_back(*fs, dir, told);
      REQUIRE_MESSAGE(back, back.error().line());
      CHECK(back->frames == 2);
      CHECK(back->changed == 0);
      CHECK(differences(*fs, dir, false) == "");
      CHECK(set_back(*fs, dir, told)->frames == 0);
      CHECK(told.errors.empty());
    }
  }

  TEST_CASE(
      "a kill or a power cut at any step loses nothing; the next call completes, and the way back works") {
    for (const std::string& dir : {kFar, kNear}) {
      CAPTURE(dir);
      Seen seen;
      int crashes = 0, states = 0;
      for (int at = 1;; ++at) {
        CAPTURE(at);
        const auto fs = filled(dir);
        fs->fault = Fault::crash;
        fs->at = at;
        Quiet told;
        static_cast<void>(set_aside(*fs, dir, told));
        if (!fs->crashed) break;
        ++crashes;
        for (const auto& left : fs->afterwards()) {
          REQUIRE(nothing_lost(*left, dir));
          if (!seen.fresh(*left)) continue;
          ++states;
          Quiet again;
          const auto done = set_aside(*left, dir, again);
          REQUIRE_MESSAGE(done, done.error().line());
          REQUIRE(again.errors.empty());
          REQUIRE(differences(*left, dir, true) == "");
          REQUIRE(set_back(*left, dir, again));
          REQUIRE(differences(*left, dir, false) == "");
        }
      }
      MESSAGE(dir << ": " << crashes << " crashes, " << states << " states");
      CHECK(crashes > (dir == kFar ? 60 : 25));
    }
  }

  TEST_CASE("so does one on the way back") {
    for (const std::string& dir : {kFar, kNear}) {
      CAPTURE(dir);
      Seen seen;
      int crashes = 0;
      for (int at = 1;; ++at) {
        CAPTURE(at);
        const auto fs = filled(dir);
        Quiet told;
        REQUIRE(set_aside(*fs, dir, told));
        fs->operations = 0;
        fs->fault = Fault::crash;
        fs->at = at;
        static_cast<void>(set_back(*fs, dir, told));
        if (!fs->crashed) break;
        ++crashes;
        for (const auto& left : fs->afterwards()) {
          REQUIRE(nothing_lost(*left, dir));
          if (!seen.fresh(*left)) continue;
          Quiet again;
          const auto back = set_back(*left, dir, again);
          REQUIRE_MESSAGE(back, back.error().line());
          REQUIRE(again.errors.empty());
          REQUIRE(differences(*left, dir, false) == "");
        }
      }
      CHECK(crashes > (dir == kFar ? 55 : 20));
    }
  }

  TEST_CASE("one failing step leaves a frame wholly here or there, or for the next call to put in order") {
    for (const std::string& dir : {kFar, kNear})
      for (const bool back : {false, true}) {
        CAPTURE(dir);
        CAPTURE(back);
        int failures = 0;
        for (int at = 1;; ++at) {
          CAPTURE(at);
          const auto fs = filled(dir);
          Quiet told;
          if (back) REQUIRE(set_aside(*fs, dir, told));
          fs->operations = 0;
          fs->fault = Fault::fail;
          fs->at = at;
          static_cast<void>(back ? set_back(*fs, dir, told) : set_aside(*fs, dir, told));
          if (fs->operations < at) break;
          ++failures;
          // The step may be the one that gives a copy its time or permissions, which not every disk can hold.
          constexpr bool kExactly = false;
          REQUIRE(nothing_lost(*fs, dir));
          Quiet again;
          if (!back) {
            const auto done = set_aside(*fs, dir, again);
            REQUIRE_MESSAGE(done, done.error().line());
            REQUIRE(again.errors.empty());
            REQUIRE(differences(*fs, dir, true, kExactly) == "");
          }
          REQUIRE(set_back(*fs, dir, again));
          REQUIRE(again.errors.empty());
          REQUIRE(differences(*fs, dir, false, kExactly) == "");
        }
        CHECK(failures > 20);
      }
  }

  TEST_CASE("a person who changes their mind after a crash is heard") {
    int heard = 0;
    for (int at = 10;; ++at) {
      CAPTURE(at);
      const auto fs = filled(kFar);
      fs->fault = Fault::crash;
      fs->at = at;
      Quiet told;
      static_cast<void>(set_aside(*fs, kFar, told));
      if (!fs->crashed) break;
      const auto left = std::move(fs->afterwards().front());
      const auto files = left->files();
      const std::string keep = "/card/DCIM/100HARBR/MRS_0001.JPG.xmp";
      if (files.count("/card/DCIM/100HARBR/MRS_0001.DNG") == 0) continue;
      ++heard;
      left->put(keep, test::bytes_of(test::rated("3")), 2000, 0644);
      Quiet again;
      const auto done = set_aside(*left, kFar, again);
      REQUIRE(done);
      CHECK(done->theirs == 1);
      for (const auto& [from, o] : originals(kFar))
        if (from.find("0001") != std::string::npos) CHECK_MESSAGE(left->files().count(from) == 1, from);
    }
    CHECK(heard > 20);
  }

  TEST_CASE("a card that can't be written to keeps every frame, and nothing is left behind") {
    const auto fs = filled(kFar);
    fs->read_only_card = true;
    Quiet told;
    const auto done = set_aside(*fs, kFar, told);
    REQUIRE(done);
    CHECK(done->frames == 0);
    CHECK(done->refused == 2);
    CHECK(differences(*fs, kFar, false) == "");
  }
}
