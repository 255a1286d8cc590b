#include <doctest/doctest.h>
#include <sys/stat.h>
#include <unistd.h>

#include "base/memory_file_system.h"
#include "base/temp_folder.h"
#include "burstsieve/base/durable.h"

using namespace burstsieve;
using test::Fault;
using test::MemoryFileSystem;

namespace {

const ByteBuffer kOld{'o', 'l', 'd'};
const ByteBuffer kNew{'n', 'e', 'w', 'e', 'r'};

std::optional<FileStat> seen(FileSystem& fs, const std::string& path) {
  return *fs.stat(path);
}

}  // namespace

TEST_SUITE("base/durable") {
  TEST_CASE("a crash at any operation leaves the old contents or the new, never anything else") {
    for (const bool exists : {true, false}) {
      int crashes = 0;
      for (int at = 1;; ++at) {
        MemoryFileSystem fs;
        if (exists) fs.put("d/x.xmp", kOld);
        fs.fault = Fault::crash;
        fs.at = at;
        const auto done = durable_replace(fs, "d/x.xmp", kNew, seen(fs, "d/x.xmp"));
        for (const auto& left : fs.after_power_cut("d/x.xmp")) {
          const bool is_old = exists ? left == kOld : !left.has_value();
          CHECK_MESSAGE((is_old || left == kNew), "operation " << at);
        }
        if (!fs.crashed) {
          REQUIRE(done);
          break;
        }
        CHECK_FALSE(done);
        ++crashes;
      }
      // create, write, (permissions,) sync, close, rename, sync of the folder
      CHECK(crashes == (exists ? 7 : 6));
    }
  }

  TEST_CASE("after success a power cut can no longer bring the old contents back") {
    MemoryFileSystem fs;
    fs.put("d/x.xmp", kOld);
    REQUIRE(durable_replace(fs, "d/x.xmp", kNew, seen(fs, "d/x.xmp")));
    for (const auto& left : fs.after_power_cut("d/x.xmp")) CHECK(left == kNew);
  }

  TEST_CASE("a failure before the rename keeps the old contents and leaves no temporary file") {
    for (int at = 2; at <= 6; ++at) {
      MemoryFileSystem fs;
      fs.put("d/x.xmp", kOld);
      fs.fault = Fault::fail;
      fs.at = at;
      const auto done = durable_replace(fs, "d/x.xmp", kNew, seen(fs, "d/x.xmp"));
      REQUIRE_FALSE(done);
      CHECK(done.error().file == "d/x.xmp");
      CHECK(fs.names().size() == 1);
      CHECK(fs.names().at("d/x.xmp")->live == kOld);
    }
  }

  TEST_CASE("when the folder can't be synced the error names the file, which is whole and new") {
    MemoryFileSystem fs;
    fs.fault = Fault::fail;
    fs.at = 6;  // create, write, sync, close, rename
    const auto done = durable_replace(fs, "d/x.xmp", kNew, std::nullopt);
    REQUIRE_FALSE(done);
    CHECK(done.error().file == "d/x.xmp");
    CHECK(fs.names().at("d/x.xmp")->live == kNew);
  }

  TEST_CASE("a refused verification keeps the old contents") {
    MemoryFileSystem fs;
    fs.put("x", kOld);
    const auto done = durable_replace(fs, "x", kNew, seen(fs, "x"), [](Bytes back) -> Status {
      CHECK(back.size() == kNew.size());
      return Error{Cause::corrupt, {}, "no"};
    });
    REQUIRE_FALSE(done);
    CHECK(done.error().cause == Cause::corrupt);
    CHECK(fs.names().at("x")->live == kOld);
    CHECK(fs.names().size() == 1);
  }

  TEST_CASE("a file that another program changed meanwhile is left alone") {
    MemoryFileSystem fs;
    fs.put("x", kOld);
    const auto before = seen(fs, "x");
    const ByteBuffer theirs{'t'};
    fs.put("x", theirs);
    CHECK_FALSE(durable_replace(fs, "x", kNew, before));
    CHECK(fs.names().at("x")->live == theirs);

    MemoryFileSystem appears;
    appears.put("y", theirs);
    CHECK_FALSE(durable_replace(appears, "y", kNew, std::nullopt));
    CHECK(appears.names().at("y")->live == theirs);
  }

  TEST_CASE("on a real disk: contents, permissions, no leftovers, names as long as names get") {
    test::TempFolder folder;
    RealFileSystem fs;
    const std::string leaf(255, 'n');
    const std::string path = folder.at(leaf);
    REQUIRE(durable_replace(fs, path, kOld, std::nullopt));
    CHECK(folder.read(leaf) == "old");
    REQUIRE(::chmod(path.c_str(), 0640) == 0);
    REQUIRE(durable_replace(fs, path, kNew, seen(fs, path)));
    CHECK(folder.read(leaf) == "newer");
    CHECK((*fs.stat(path))->mode == 0640);
    CHECK(fs.list(folder.path)->size() == 1);
  }

  TEST_CASE("a symbolic link is neither followed nor replaced") {
    test::TempFolder folder;
    RealFileSystem fs;
    folder.write("real", "old");
    REQUIRE(::symlink("real", folder.at("link").c_str()) == 0);
    const auto done = durable_replace(fs, folder.at("link"), kNew, seen(fs, folder.at("link")));
    REQUIRE_FALSE(done);
    CHECK(done.error().cause == Cause::unsupported);
    CHECK(folder.read("real") == "old");
    CHECK((*fs.stat(folder.at("link")))->type == FileType::symlink);
  }
}
