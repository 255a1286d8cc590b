// undo, on real files on disk: what a run changed is taken back, byte for byte, and nothing else.
#include "burstsieve/pipeline/undo.h"

#include <doctest/doctest.h>
#include <sys/stat.h>
#include <sys/wait.h>

#include <nlohmann/json.hpp>
#include <sstream>

#include "base/memory_file_system.h"
#include "burstsieve/sidecar/restore.h"
#include "pipeline/sample.h"
#include "sidecar/helpers.h"

using namespace burstsieve;
using test::Recorder;
using test::SampleFolder;

namespace {

struct Undone {
  pipeline::UndoSummary summary;
  std::vector<Error> left;
};

Catalog catalog_of(const SampleFolder& s) {
  auto catalog = Catalog::open(s.folder.at("catalog.sqlite"), kEngineVersion);
  REQUIRE_MESSAGE(catalog, catalog.error().line());
  return std::move(*catalog);
}

Undone undo(const SampleFolder& s, std::optional<std::int64_t> run = {}, bool dry_run = false) {
  Undone out;
  Catalog catalog = catalog_of(s);
  RealFileSystem fs;
  const auto done =
      pipeline::undo({run, dry_run}, catalog, fs, [&](const Error& e) { out.left.push_back(e); });
  REQUIRE_MESSAGE(done, done.error().line());
  out.summary = *done;
  CHECK(out.summary.left == out.left.size());
  return out;
}

pipeline::CullOptions with_soft_limit(double px) {
  pipeline::CullOptions o;
  o.policy.soft_px = px;
  return o;
}

constexpr const char* kForeign = "DCIM/101SALTM/BSG_0013.JPG.xmp";
constexpr const char* kEmpty = "DCIM/101SALTM/BSG_0015.JPG.xmp";

// The sidecars' file system of some tests: it knows of the photographs that they are there.
void put_photographs(test::MemoryFileSystem& fs, const SampleFolder& s) {
  const std::string root = std::filesystem::canonical(s.folder.path).string() + "/";
  for (const auto& [name, bytes] : s.contents(false)) fs.put(root + name, {});
}

std::uint32_t mode_of(const std::string& path) {
  struct stat st {};
  REQUIRE(::stat(path.c_str(), &st) == 0);
  return st.st_mode & 07777;
}

}  // namespace

TEST_SUITE("pipeline/undo") {
  TEST_CASE("the folder is as before the run, byte for byte; a second undo has nothing to do") {
    SampleFolder s;
    s.folder.write(kForeign, test::rated("0"));
    s.folder.write(kEmpty, "");
    REQUIRE(::chmod(s.folder.at(kForeign).c_str(), 0640) == 0);
    const auto before = s.contents(true), originals = s.contents(false);
    Recorder run;
    CHECK(s.cull(run).updated == 1);
    const auto after = s.contents(true);
    REQUIRE(after.size() == 30);

    const Undone look = undo(s, {}, true);
    CHECK(look.summary.restored == 2);
    CHECK(look.summary.removed == 28);
    CHECK(s.contents(true) == after);

    const Undone first = undo(s);
    CHECK(first.summary.run == 1);
    CHECK(first.summary.restored == 2);
    CHECK(first.summary.removed == 28);
    CHECK(first.summary.left == 0);
    CHECK(s.contents(true) == before);
    CHECK(s.contents(false) == originals);
    CHECK(mode_of(s.folder.at(kForeign)) == 0640);
    CHECK(undo(s).summary.nothing());
    CHECK(undo(s).summary.run == 1);
    const auto history = catalog_of(s).history();
    CHECK(history.at(0).changed == 30);
    CHECK(history.at(0).undone == 30);

    // And nothing of the undone run stands in the way of the next.
    Recorder again;
    s.cull(again);
    CHECK(s.contents(true) == after);
    CHECK(undo(s).summary.run == 2);
    CHECK(s.contents(true) == before);
  }

  TEST_CASE("a sidecar that a person changed since stays, and is named") {
    SampleFolder s;
    Recorder run;
    s.cull(run);
    const std::string theirs = s.folder.read(kForeign) + " ";
    s.folder.write(kForeign, theirs);
    for (int time = 0; time < 2; ++time) {
      const Undone u = undo(s);
      CHECK(u.summary.removed == (time == 0 ? 29 : 0));
      REQUIRE(u.left.size() == 1);
      CHECK(leaf_of(u.left[0].file) == "BSG_0013.JPG.xmp");
      CHECK(u.left[0].text == "was changed or removed since, left alone");
      CHECK(s.contents(true).size() == 1);
      CHECK(s.folder.read(kForeign) == theirs);
    }
  }

  TEST_CASE("an older run is not undone under a newer one; newest first, all goes back") {
    SampleFolder s;
    Recorder a, b;
    s.cull(a);
    const auto first = s.contents(true);
    const auto changed = s.cull(b, with_soft_limit(1.0)).updated;
    REQUIRE(changed > 0);
    REQUIRE(changed < 30);
    const auto second = s.contents(true);

    const Undone older = undo(s, 1);
    CHECK(older.left.size() == changed);
    for (const Error& e : older.left) CHECK(e.text == "run 2 changed it since; undo that one first");
    CHECK(older.summary.removed == 30 - changed);
    for (const auto& [name, bytes] : s.contents(true)) CHECK(second.at(name) == bytes);

    const Undone newer = undo(s);
    CHECK(newer.summary.run == 2);
    CHECK(newer.summary.restored == changed);
    for (const auto& [name, bytes] : s.contents(true)) CHECK(first.at(name) == bytes);
    CHECK(undo(s, 1).summary.removed == changed);
    CHECK(s.contents(true).empty());
  }

  TEST_CASE(
      "of two runs at once the first may have changed a sidecar last: undone in that order, all goes back") {
    SampleFolder s(false);
    Catalog c = catalog_of(s);
    RealFileSystem fs;
    const std::string path = s.folder.at("a.xmp");
    const auto early = *c.record_run({}), late = *c.record_run({});
    // As SidecarDesk does: plan, change, mark. The later run makes the sidecar, then the earlier one sees it.
    const auto change = [&](std::int64_t run, const std::optional<std::string>& before,
                            const std::string& after) {
      const ByteBuffer old = before ? ByteBuffer(before->begin(), before->end()) : ByteBuffer();
      PlannedChange planned{path, before ? std::optional<Bytes>(old) : std::nullopt,
                            contents_sum(ByteBuffer(after.begin(), after.end()))};
      const auto first = c.plan_changes(run, {&planned, 1}, 1);
      REQUIRE(first);
      s.folder.write("a.xmp", after);
      const std::int64_t made = *first;
      REQUIRE(c.changes_done(run, {&made, 1}, {}));
    };
    change(late, std::nullopt, "by the later run");
    change(early, "by the later run", "by the earlier run");
    const Undone blocked = undo(s, late);
    REQUIRE(blocked.left.size() == 1);
    CHECK(blocked.left[0].text == "run " + std::to_string(early) + " changed it since; undo that one first");
    CHECK(undo(s, early).summary.restored == 1);
    CHECK(s.folder.read("a.xmp") == "by the later run");
    CHECK(undo(s, late).summary.removed == 1);
    CHECK_FALSE(std::filesystem::exists(path));
  }

  TEST_CASE("a dry run journals nothing; a run that changed nothing is not the last to undo") {
    SampleFolder s;
    Recorder run;
    pipeline::CullOptions options;
    options.dry_run = true;
    s.cull(run, options);
    CHECK(undo(s).summary.run == 0);
    CHECK(catalog_of(s).history().at(0).changed == 0);
    s.cull(run);
    s.cull(run);
    CHECK(undo(s).summary.run == 2);
    CHECK(s.contents(true).empty());
  }

  TEST_CASE("no such run is an error") {
    SampleFolder s(false);
    Catalog catalog = catalog_of(s);
    RealFileSystem fs;
    const auto done = pipeline::undo({7, false}, catalog, fs, [](const Error&) {});
    REQUIRE_FALSE(done);
    CHECK(done.error().text == "there is no run 7 in the catalogue");
  }

  TEST_CASE("killed at any step of the first sidecars, a run can be undone") {
    SampleFolder s;
    Recorder warm;
    pipeline::CullOptions dry;
    dry.dry_run = true;
    s.cull(warm, dry);  // the measures: the runs below only write
    const ByteBuffer old = test::bytes_of(test::rated("0"));
    const std::string foreign = std::filesystem::canonical(s.folder.path).string() + "/" + kForeign;
    for (int at = 1; at <= 26; ++at) {
      CAPTURE(at);
      test::MemoryFileSystem fs;
      put_photographs(fs, s);
      fs.put(foreign, old);
      fs.fault = test::Fault::crash;
      fs.at = at;
      Catalog catalog = catalog_of(s);
      ManualClock clock;
      Recorder run;
      pipeline::CullOptions options;
      options.places = {std::filesystem::canonical(s.folder.at("DCIM")).string()};
      REQUIRE(pipeline::cull(options, catalog, fs, clock, run));
      REQUIRE(fs.crashed);

      fs.crashed = false;
      fs.fault = test::Fault::none;
      const auto done = pipeline::undo({}, catalog, fs, [](const Error& e) { FAIL_CHECK(e.line()); });
      REQUIRE(done);
      CHECK(done->left == 0);
      for (const auto& [name, node] : fs.names())
        if (name.ends_with(".xmp")) CHECK_MESSAGE(name == foreign, name);
      CHECK(fs.names().at(foreign)->live == old);
      CHECK(pipeline::undo({done->run, false}, catalog, fs, [](const Error&) {})->nothing());
    }
  }

  TEST_CASE("one failing step is one failed sidecar; what was changed in spite of it can be undone") {
    SampleFolder s;
    Recorder warm;
    pipeline::CullOptions options;
    options.places = {std::filesystem::canonical(s.folder.at("DCIM")).string()};
    options.dry_run = true;
    s.cull(warm, options);
    options.dry_run = false;
    for (int at = 1; at <= 14; ++at) {
      CAPTURE(at);
      test::MemoryFileSystem fs;
      put_photographs(fs, s);
      fs.fault = test::Fault::fail;
      fs.at = at;
      Catalog catalog = catalog_of(s);
      ManualClock clock;
      Recorder run;
      const auto summary = pipeline::cull(options, catalog, fs, clock, run);
      REQUIRE(summary);
      CHECK(summary->errors + summary->created >= 30);
      CHECK(catalog.history().back().planned == 0);
      const auto done = pipeline::undo({}, catalog, fs, [](const Error& e) { FAIL_CHECK(e.line()); });
      REQUIRE(done);
      CHECK(done->already == 0);
      for (const auto& [name, node] : fs.names()) CHECK_MESSAGE(!name.ends_with(".xmp"), name);
    }
  }
}
