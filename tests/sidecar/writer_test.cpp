#include "burstsieve/sidecar/writer.h"

#include <doctest/doctest.h>
#include <sys/stat.h>
#include <unistd.h>

#include "base/as_nobody.h"
#include "base/memory_file_system.h"
#include "base/temp_folder.h"
#include "sidecar/helpers.h"

using namespace burstsieve;
using namespace burstsieve::test;

TEST_SUITE("sidecar/writer") {
  TEST_CASE("created, unchanged, updated; a missing folder is made") {
    TempFolder folder;
    RealFileSystem fs;
    const SidecarPlace place{folder.at("new/deep/a.CR3.xmp"), {}};
    CHECK(write_sidecar(fs, place, entry_with(3), false)->change == SidecarChange::created);
    const auto before = *fs.stat(place.path);
    CHECK(write_sidecar(fs, place, entry_with(3), false)->change == SidecarChange::unchanged);
    CHECK(*fs.stat(place.path) == before);  // not rewritten: same inode, same time
    CHECK(write_sidecar(fs, place, entry_with(4), false)->change == SidecarChange::updated);
    CHECK(fs.list(folder.at("new/deep"))->size() == 1);
  }

  TEST_CASE("a dry run tells the same and writes nothing") {
    TempFolder folder;
    RealFileSystem fs;
    const SidecarPlace place{folder.at("new/a.xmp"), {}};
    CHECK(write_sidecar(fs, place, entry_with(3), true)->change == SidecarChange::created);
    CHECK(fs.list(folder.path)->empty());
    folder.write("b.xmp", rated("0"));
    const SidecarPlace other{folder.at("b.xmp"), {}};
    CHECK(write_sidecar(fs, other, entry_with(3), true)->change == SidecarChange::updated);
    CHECK(folder.read("b.xmp") == rated("0"));
  }

  TEST_CASE("a person's word in another sidecar of the frame counts") {
    TempFolder folder;
    RealFileSystem fs;
    folder.write("a.xmp", rated("1"));
    const SidecarPlace place{folder.at("a.CR3.xmp"), {folder.at("a.xmp")}};
    const auto done = write_sidecar(fs, place, entry_with(5), false);
    REQUIRE(done);
    CHECK(done->change == SidecarChange::human);
    CHECK(done->path == folder.at("a.xmp"));
    CHECK(fs.list(folder.path)->size() == 1);
    const auto word = read_override(fs, place);
    REQUIRE(word);
    CHECK(word->value().rating == 1.0);
  }

  TEST_CASE("a damaged sidecar is named and left as it is, byte for byte") {
    TempFolder folder;
    RealFileSystem fs;
    const std::string cut = rated("0").substr(0, 120);
    folder.write("a.xmp", cut);
    const auto before = *fs.stat(folder.at("a.xmp"));
    const auto done = write_sidecar(fs, {folder.at("a.xmp"), {}}, entry_with(3), false);
    REQUIRE_FALSE(done);
    CHECK(done.error().line() == folder.at("a.xmp") + ": ends in the middle");
    CHECK(folder.read("a.xmp") == cut);
    CHECK(*fs.stat(folder.at("a.xmp")) == before);
    // The same beside a frame whose own sidecar is fine: a person's word may be in it.
    CHECK_FALSE(write_sidecar(fs, {folder.at("b.xmp"), {folder.at("a.xmp")}}, entry_with(3), false));
    CHECK_FALSE(read_override(fs, {folder.at("b.xmp"), {folder.at("a.xmp")}}));
    CHECK(fs.list(folder.path)->size() == 1);
  }

  TEST_CASE("an empty file is no sidecar yet") {
    TempFolder folder;
    RealFileSystem fs;
    folder.write("a.xmp", "");
    CHECK(write_sidecar(fs, {folder.at("a.xmp"), {}}, entry_with(3), false)->change ==
          SidecarChange::created);
    CHECK(read_record(bytes_of(folder.read("a.xmp")))->rating == "3");
  }

  TEST_CASE("links and folders in place of a sidecar are refused") {
    TempFolder folder;
    RealFileSystem fs;
    folder.write("real", rated("0"));
    REQUIRE(::symlink("real", folder.at("a.xmp").c_str()) == 0);
    const auto linked = write_sidecar(fs, {folder.at("a.xmp"), {}}, entry_with(3), false);
    REQUIRE_FALSE(linked);
    CHECK(linked.error().cause == Cause::unsupported);
    CHECK(folder.read("real") == rated("0"));
    REQUIRE(::symlink("nowhere", folder.at("b.xmp").c_str()) == 0);
    CHECK_FALSE(write_sidecar(fs, {folder.at("b.xmp"), {}}, entry_with(3), false));
    REQUIRE(::mkdir(folder.at("c.xmp").c_str(), 0700) == 0);
    CHECK_FALSE(write_sidecar(fs, {folder.at("c.xmp"), {}}, entry_with(3), false));
  }

  TEST_CASE("a folder that can't be written is an error that says so") {
    TempFolder folder;
    RealFileSystem fs;
    REQUIRE(::chmod(folder.path.c_str(), 0555) == 0);
    const AsNobody nobody;
    const auto done = write_sidecar(fs, {folder.at("a.xmp"), {}}, entry_with(3), false);
    REQUIRE_FALSE(done);
    CHECK(done.error().line() == folder.at("a.xmp") + ": cannot create: Permission denied");
  }

  TEST_CASE("a write-protected sidecar is left alone, whoever asks") {
    TempFolder folder;
    RealFileSystem fs;
    folder.write("a.xmp", rated("0"));
    REQUIRE(::chmod(folder.at("a.xmp").c_str(), 0444) == 0);
    CHECK_FALSE(write_sidecar(fs, {folder.at("a.xmp"), {}}, entry_with(3), false));
    CHECK(folder.read("a.xmp") == rated("0"));
  }

  TEST_CASE("permissions of a sidecar stay") {
    TempFolder folder;
    RealFileSystem fs;
    folder.write("a.xmp", rated("0"));
    REQUIRE(::chmod(folder.at("a.xmp").c_str(), 0660) == 0);
    REQUIRE(write_sidecar(fs, {folder.at("a.xmp"), {}}, entry_with(3), false));
    CHECK((*fs.stat(folder.at("a.xmp")))->mode == 0660);
  }

  TEST_CASE("a name that is too long is an error, not a shortened name") {
    TempFolder folder;
    RealFileSystem fs;
    const std::string path = folder.at(std::string(252, 'n') + ".xmp");
    CHECK_FALSE(write_sidecar(fs, {path, {}}, entry_with(3), false));
    CHECK(fs.list(folder.path)->empty());
  }

  TEST_CASE("a crash at any moment leaves the person's sidecar or the merged one") {
    const ByteBuffer old = bytes_of(rated("0"));
    const auto merged = merge(old, entry_with(3));
    REQUIRE(merged);
    for (int at = 1;; ++at) {
      MemoryFileSystem fs;
      fs.put("d/a.xmp", old);
      fs.fault = Fault::crash;
      fs.at = at;
      const auto done = write_sidecar(fs, {"d/a.xmp", {}}, entry_with(3), false);
      for (const auto& left : fs.after_power_cut("d/a.xmp"))
        CHECK_MESSAGE((left == old || left == merged->bytes), "operation " << at);
      CHECK(static_cast<bool>(done) == !fs.crashed);
      if (!fs.crashed) break;
    }
  }
}
