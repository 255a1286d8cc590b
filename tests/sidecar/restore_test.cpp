#include "burstsieve/sidecar/restore.h"

#include <doctest/doctest.h>
#include <sys/stat.h>
#include <unistd.h>

#include "base/memory_file_system.h"
#include "base/temp_folder.h"
#include "burstsieve/sidecar/writer.h"
#include "sidecar/helpers.h"

using namespace burstsieve;
using namespace burstsieve::test;

namespace {

const std::optional<Bytes> kNoFile;

}  // namespace

TEST_SUITE("sidecar/restore") {
  TEST_CASE("a plan writes nothing; applied, it is what write_sidecar does") {
    TempFolder folder;
    RealFileSystem fs;
    folder.write("a.xmp", rated("0"));
    const auto plan = plan_sidecar(fs, {folder.at("a.xmp"), {}}, entry_with(3));
    REQUIRE(plan);
    CHECK(plan->writes());
    CHECK(text_of(plan->before) == rated("0"));
    CHECK(folder.read("a.xmp") == rated("0"));
    REQUIRE(apply_plan(fs, *plan));
    CHECK(folder.read("a.xmp") == text_of(plan->after));
    // The file the plan was made for is gone.
    CHECK_FALSE(apply_plan(fs, *plan));
    const auto again = plan_sidecar(fs, {folder.at("a.xmp"), {}}, entry_with(3));
    REQUIRE(again);
    CHECK_FALSE(again->writes());
    CHECK(again->after.empty());
    CHECK(apply_plan(fs, *again));
  }

  TEST_CASE("the bytes before stand there again, permissions stay") {
    TempFolder folder;
    RealFileSystem fs;
    const ByteBuffer ours = bytes_of("ours"), old = bytes_of("theirs");
    folder.write("a.xmp", "ours");
    REQUIRE(::chmod(folder.at("a.xmp").c_str(), 0660) == 0);
    CHECK(*restore_sidecar(fs, folder.at("a.xmp"), Bytes(old), contents_sum(ours), true) ==
          Restored::restored);
    CHECK(folder.read("a.xmp") == "ours");
    CHECK(*restore_sidecar(fs, folder.at("a.xmp"), Bytes(old), contents_sum(ours), false) ==
          Restored::restored);
    CHECK(folder.read("a.xmp") == "theirs");
    CHECK((*fs.stat(folder.at("a.xmp")))->mode == 0660);
    CHECK(*restore_sidecar(fs, folder.at("a.xmp"), Bytes(old), contents_sum(ours), false) ==
          Restored::already);
    CHECK(fs.list(folder.path)->size() == 1);
  }

  TEST_CASE("an empty file before is not the same as none") {
    TempFolder folder;
    RealFileSystem fs;
    folder.write("a.xmp", "ours");
    const ByteBuffer ours = bytes_of("ours"), empty;
    CHECK(*restore_sidecar(fs, folder.at("a.xmp"), Bytes(empty), contents_sum(ours), false) ==
          Restored::restored);
    CHECK((*fs.stat(folder.at("a.xmp")))->size == 0);
  }

  TEST_CASE("one that we created goes, but only with exactly our bytes") {
    TempFolder folder;
    RealFileSystem fs;
    const std::uint64_t ours = contents_sum(bytes_of("ours"));
    folder.write("a.xmp", "ours!");
    CHECK(*restore_sidecar(fs, folder.at("a.xmp"), kNoFile, ours, false) == Restored::changed_since);
    CHECK(folder.read("a.xmp") == "ours!");
    folder.write("a.xmp", "");
    CHECK(*restore_sidecar(fs, folder.at("a.xmp"), kNoFile, ours, false) == Restored::changed_since);
    folder.write("a.xmp", "ours");
    CHECK(*restore_sidecar(fs, folder.at("a.xmp"), kNoFile, ours, true) == Restored::removed);
    CHECK(folder.read("a.xmp") == "ours");
    CHECK(*restore_sidecar(fs, folder.at("a.xmp"), kNoFile, ours, false) == Restored::removed);
    CHECK(fs.list(folder.path)->empty());
    CHECK(*restore_sidecar(fs, folder.at("a.xmp"), kNoFile, ours, false) == Restored::already);
    // Removed by a person, who had one before the run: not brought back behind their back.
    const ByteBuffer old = bytes_of("theirs");
    CHECK(*restore_sidecar(fs, folder.at("a.xmp"), Bytes(old), ours, false) == Restored::changed_since);
    CHECK(fs.list(folder.path)->empty());
  }

  TEST_CASE("links, folders and write-protected files are left alone") {
    TempFolder folder;
    RealFileSystem fs;
    const std::uint64_t ours = contents_sum(bytes_of("ours"));
    folder.write("real", "ours");
    REQUIRE(::symlink("real", folder.at("a.xmp").c_str()) == 0);
    const auto linked = restore_sidecar(fs, folder.at("a.xmp"), kNoFile, ours, false);
    REQUIRE_FALSE(linked);
    CHECK(linked.error().cause == Cause::unsupported);
    CHECK(fs.list(folder.path)->size() == 2);
    REQUIRE(::mkdir(folder.at("b.xmp").c_str(), 0700) == 0);
    CHECK_FALSE(restore_sidecar(fs, folder.at("b.xmp"), kNoFile, ours, false));
    REQUIRE(::chmod(folder.at("real").c_str(), 0444) == 0);
    CHECK_FALSE(restore_sidecar(fs, folder.at("real"), kNoFile, ours, false));
    CHECK(folder.read("real") == "ours");
  }

  TEST_CASE("a crash at any moment leaves ours or the bytes before, and a second undo ends it") {
    const ByteBuffer ours = bytes_of("ours, and longer"), old = bytes_of("theirs");
    for (const bool created : {false, true})
      for (int at = 1;; ++at) {
        const auto before = created ? kNoFile : std::optional<Bytes>(old);
        const auto want = created ? std::optional<ByteBuffer>() : std::optional<ByteBuffer>(old);
        MemoryFileSystem fs;
        fs.put("/d/a.xmp", ours);
        fs.fault = Fault::crash;
        fs.at = at;
        const auto done = restore_sidecar(fs, "/d/a.xmp", before, contents_sum(ours), false);
        for (const auto& left : fs.after_power_cut("/d/a.xmp"))
          CHECK_MESSAGE((left == want || left == ours), "operation " << at);
        if (!fs.crashed) {
          CHECK(done);
          break;
        }
        fs.crashed = false;
        fs.fault = Fault::none;
        CHECK(restore_sidecar(fs, "/d/a.xmp", before, contents_sum(ours), false));
        CHECK(fs.names().count("/d/a.xmp") == (created ? 0 : 1));
        if (!created) CHECK(fs.names().at("/d/a.xmp")->live == old);
      }
  }
}
