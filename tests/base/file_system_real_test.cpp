#include <doctest/doctest.h>
#include <sys/stat.h>
#include <unistd.h>

#include <fstream>

#include "base/temp_folder.h"
#include "burstsieve/base/clock.h"
#include "burstsieve/base/file_system.h"

using namespace burstsieve;

TEST_SUITE("base/file_system") {
  TEST_CASE("reads whole files up to the limit, the limit included") {
    test::TempFolder f;
    RealFileSystem fs;
    std::ofstream(f.at("a")) << "12345";
    CHECK(fs.read_file(f.at("a"), 5)->size() == 5);
    const auto refused = fs.read_file(f.at("a"), 4);
    REQUIRE_FALSE(refused);
    CHECK(refused.error().cause == Cause::limit);
    std::ofstream(f.at("empty")).flush();
    CHECK(fs.read_file(f.at("empty"), 0)->empty());
  }

  TEST_CASE("an error names the file and carries the system's word") {
    test::TempFolder f;
    RealFileSystem fs;
    const auto gone = fs.read_file(f.at("gone"), 10);
    REQUIRE_FALSE(gone);
    CHECK(gone.error().cause == Cause::io);
    CHECK(gone.error().line() == f.at("gone") + ": cannot open: No such file or directory");
  }

  TEST_CASE("links, pipes and folders are no files to read; a pipe does not block") {
    test::TempFolder f;
    RealFileSystem fs;
    std::ofstream(f.at("a")) << "x";
    REQUIRE(::symlink("a", f.at("link").c_str()) == 0);
    REQUIRE(::mkfifo(f.at("pipe").c_str(), 0600) == 0);
    for (const char* name : {"link", "pipe", "."}) {
      const auto read = fs.read_file(f.at(name), 10);
      REQUIRE_FALSE(read);
      CHECK(read.error().cause == Cause::unsupported);
    }
  }

  TEST_CASE("create and rename never take a name that is in use") {
    test::TempFolder f;
    RealFileSystem fs;
    std::ofstream(f.at("a")) << "a";
    std::ofstream(f.at("b")) << "b";
    CHECK_FALSE(fs.create(f.at("a"), 0644));
    REQUIRE(::symlink("nowhere", f.at("dangling").c_str()) == 0);
    CHECK_FALSE(fs.create(f.at("dangling"), 0644));
    CHECK_FALSE(fs.rename(f.at("a"), f.at("b"), false));
    CHECK(fs.list(f.path)->size() == 3);
    CHECK(fs.rename(f.at("a"), f.at("b"), true));
    CHECK(*fs.list(f.path) == std::vector<std::string>{"b", "dangling"});
  }

  TEST_CASE("a file that somebody has open for writing is not replaced: what they write would be lost") {
    test::TempFolder f;
    RealFileSystem fs;
    f.write("sidecar", "");  // cut to nothing, about to be written
    f.write("new", "ours");
    {
      std::ofstream theirs(f.at("sidecar"));
      const auto refused = fs.rename(f.at("new"), f.at("sidecar"), true);
      REQUIRE_FALSE(refused);
      CHECK(refused.error().line() == f.at("sidecar") + ": is being written by another program, left alone");
      theirs << "theirs";
    }
    CHECK(f.read("sidecar") == "theirs");
    std::ifstream reader(f.at("sidecar"));  // reading is no reason
    CHECK(fs.rename(f.at("new"), f.at("sidecar"), true));
    CHECK(f.read("sidecar") == "ours");
  }

  TEST_CASE("nothing there is an answer, not an error") {
    test::TempFolder f;
    RealFileSystem fs;
    REQUIRE(fs.stat(f.at("gone")));
    CHECK_FALSE(fs.stat(f.at("gone"))->has_value());
    std::ofstream(f.at("file")) << "x";
    CHECK_FALSE(fs.stat(f.at("file/below"))->has_value());
  }

  TEST_CASE("makes missing folders, and refuses to pass through a file") {
    test::TempFolder f;
    RealFileSystem fs;
    REQUIRE(make_folders(fs, f.at("a/b/c/"), 0700));
    CHECK((*fs.stat(f.at("a/b/c")))->mode == 0700);
    CHECK(make_folders(fs, f.at("a/b/c"), 0700));
    std::ofstream(f.at("file")) << "x";
    CHECK_FALSE(make_folders(fs, f.at("file/x"), 0700));
  }

  TEST_CASE("parts of a path") {
    CHECK(folder_of("a/b/c") == "a/b");
    CHECK(folder_of("c") == ".");
    CHECK(folder_of("/c") == "/");
    CHECK(leaf_of("a/b") == "b");
    CHECK(leaf_of("b") == "b");
  }
}

TEST_SUITE("base/clock") {
  TEST_CASE("the system clock is in milliseconds since 1970 and the steady one does not run back") {
    SystemClock clock;
    CHECK(clock.now_ms() > 1'600'000'000'000);  // 2020-09-13
    CHECK(clock.now_ms() < 10'000'000'000'000);
    const auto before = clock.steady_ms();
    CHECK(clock.steady_ms() >= before);
  }
  TEST_CASE("the manual clock moves when told") {
    ManualClock clock(5);
    clock.advance(7);
    CHECK(clock.now_ms() == 12);
    CHECK(clock.steady_ms() == 7);
  }

  TEST_CASE("moving: never over a name, told when the disk is another one, refused when the folder is held") {
    test::TempFolder f;
    RealFileSystem fs;
    f.write("a", "a");
    f.write("b", "b");
    CHECK_FALSE(fs.rename_on_device(f.at("a"), f.at("b")));
    CHECK(f.read("b") == "b");
    CHECK(*fs.rename_on_device(f.at("a"), f.at("c")) == Renamed::done);
    CHECK(f.read("c") == "a");
    struct stat here {
    }, proc{};
    REQUIRE(::stat(f.path.c_str(), &here) == 0);
    REQUIRE(::stat("/proc", &proc) == 0);
    if (here.st_dev != proc.st_dev)
      CHECK(*fs.rename_on_device(f.at("c"), "/proc/burstsieve-test") == Renamed::other_device);
    const auto held = fs.hold(f.path);
    REQUIRE(held);
    CHECK(fs.hold(f.path).error().cause == Cause::unsupported);
    CHECK_FALSE(fs.check_writable(f.at("missing")));
    CHECK(fs.check_writable(f.path));
  }

  TEST_CASE("a file is read in pieces, appended to, and given its time; links are no files") {
    test::TempFolder f;
    RealFileSystem fs;
    f.write("a", "12345");
    auto file = fs.open(f.at("a"), true);
    REQUIRE(file);
    ByteBuffer piece(3);
    CHECK(*(*file)->read(piece) == 3);
    CHECK(*(*file)->read(piece) == 2);
    CHECK(*(*file)->read(piece) == 0);
    auto more = fs.append(f.at("a"));
    REQUIRE(more);
    REQUIRE((*more)->write(Bytes(piece).first(2)));
    for (const std::int64_t ns : {std::int64_t{1'600'000'000'123'456'789}, std::int64_t{-1'500'000'000}}) {
      REQUIRE((*more)->set_mtime(ns));
      CHECK((*fs.stat(f.at("a")))->mtime_ns == ns);
    }
    CHECK(f.read("a") == "1234545");
    REQUIRE(::symlink("a", f.at("link").c_str()) == 0);
    CHECK(fs.open(f.at("link"), false).error().cause == Cause::unsupported);
    CHECK(fs.append(f.at("link")).error().cause == Cause::unsupported);
    CHECK_FALSE(fs.append(f.at("missing")));
  }
}
