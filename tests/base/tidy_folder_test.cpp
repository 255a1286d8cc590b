#include <doctest/doctest.h>
#include <sys/wait.h>
#include <unistd.h>

#include "base/fault_file_system.h"
#include "base/memory_file_system.h"
#include "base/temp_folder.h"
#include "burstsieve/base/durable.h"

using namespace burstsieve;
using namespace burstsieve::test;

namespace {

const ByteBuffer kNewBytes{'n', 'e', 'w'};

// A process that replaces `path` and is killed at step `at`; false when it got through.
bool killed_at(const std::string& path, int at) {
  const pid_t child = ::fork();
  REQUIRE(child >= 0);
  if (child == 0) {
    RealFileSystem real;
    FaultPoint point(Disturb::kill_half, at);
    FaultFileSystem fs(real, point);
    const auto seen = fs.stat(path);
    ::_exit(seen && durable_replace(fs, path, kNewBytes, *seen) ? 0 : 1);
  }
  int status = 0;
  REQUIRE(::waitpid(child, &status, 0) == child);
  if (WIFSIGNALED(status)) return true;
  REQUIRE(WEXITSTATUS(status) == 0);
  return false;
}

}  // namespace

TEST_SUITE("base/tidy_folder") {
  TEST_CASE("what a killed replacement left goes, on a real disk, whatever the step") {
    RealFileSystem fs;
    int with_leftover = 0;
    for (int at = 1;; ++at) {
      TempFolder folder;
      folder.write("x.xmp", "old");
      const bool killed = killed_at(folder.at("x.xmp"), at);
      with_leftover += fs.list(folder.path)->size() == 2;
      CHECK(tidy_folder(fs, folder.path));
      CHECK(*fs.list(folder.path) == std::vector<std::string>{"x.xmp"});
      const std::string bytes = folder.read("x.xmp");
      CHECK((bytes == "old" || bytes == "new"));
      if (!killed) break;
    }
    // Killed at the write, the permissions, the sync, the close and the rename.
    CHECK(with_leftover == 5);
  }

  TEST_CASE("a file that is being written is left alone, also when closed, until its writer lets go") {
    TempFolder folder;
    RealFileSystem fs;
    const std::string path = folder.at(".burstsieve-0123456789abcdef.tmp");
    auto file = fs.create(path, 0600);
    REQUIRE(file);
    REQUIRE((*file)->write(kNewBytes));
    CHECK(tidy_folder(fs, folder.path));
    REQUIRE((*file)->close());
    CHECK(tidy_folder(fs, folder.path));
    CHECK(fs.stat(path)->has_value());
    file->reset();
    CHECK(tidy_folder(fs, folder.path));
    CHECK_FALSE(fs.stat(path)->has_value());
  }

  TEST_CASE("only our own names, only files, no links") {
    TempFolder folder;
    RealFileSystem fs;
    const std::vector<std::string> others{".burstsieve-.tmp", ".burstsieve-0123456789ABCDEF.tmp",
                                          ".burstsieve-0123456789abcdef.tmp.xmp",
                                          "burstsieve-0123456789abcdef.tmp", "x.xmp"};
    for (const std::string& name : others) folder.write(name, "theirs");
    const std::string linked = ".burstsieve-0000000000000001.tmp", made = ".burstsieve-0000000000000002.tmp";
    REQUIRE(::symlink("x.xmp", folder.at(linked).c_str()) == 0);
    REQUIRE(fs.make_folder(folder.at(made), 0700));
    static_cast<void>(tidy_folder(fs, folder.path));
    CHECK(fs.list(folder.path)->size() == others.size() + 2);
  }

  TEST_CASE("a folder that is not there is in order") {
    TempFolder folder;
    RealFileSystem fs;
    CHECK(tidy_folder(fs, folder.at("gone")));
  }

  TEST_CASE("a name given just before the kill survives a power cut after the next tidying") {
    MemoryFileSystem fs;
    fs.fault = Fault::crash;
    fs.at = 6;  // create, write, sync, close, rename; not the sync of the folder
    CHECK_FALSE(durable_replace(fs, "d/x.xmp", kNewBytes, std::nullopt));
    REQUIRE(fs.crashed);
    fs.crashed = false;
    fs.fault = Fault::none;
    fs.put("d", {});  // the folder itself, for stat()
    REQUIRE(fs.stat("d/x.xmp")->has_value());
    CHECK_FALSE(fs.after_power_cut("d/x.xmp").back().has_value());
    CHECK(tidy_folder(fs, "d"));
    for (const auto& left : fs.after_power_cut("d/x.xmp")) CHECK(left == kNewBytes);
  }
}
