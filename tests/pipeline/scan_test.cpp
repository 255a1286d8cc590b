#include "burstsieve/pipeline/scan.h"

#include <doctest/doctest.h>
#include <sys/stat.h>

#include <filesystem>

#include "pipeline/sample.h"

using namespace burstsieve;
namespace fs = std::filesystem;

namespace {

pipeline::Engine& engine() {
  static const auto local = pipeline::make_local_engine(1, {});
  return *local;
}

}  // namespace

TEST_SUITE("pipeline/scan") {
  TEST_CASE(
      "a card as it comes: nested folders, links in a circle, hidden and empty files, strangers, content "
      "before suffix") {
    test::TempFolder card;
    const auto jpeg = test::sample_source() + "/DCIM/101SALTM/BSG_0012.JPG";
    const auto dng = test::sample_source() + "/DCIM/100HARBR/MRS_0217.DNG";
    fs::create_directories(card.at("DCIM/100SALTM/deep/deeper"));
    fs::create_directories(card.at("DCIM/.trash"));
    fs::copy_file(jpeg, card.at("DCIM/100SALTM/A_0001.JPG"));
    fs::copy_file(dng, card.at("DCIM/100SALTM/deep/deeper/A_0002.dng"));
    fs::copy_file(jpeg, card.at("DCIM/100SALTM/wrong-suffix.txt"));
    fs::copy_file(jpeg, card.at("DCIM/.trash/A_0009.JPG"));
    fs::copy_file(jpeg, card.at("DCIM/100SALTM/._A_0001.JPG"));
    card.write("DCIM/100SALTM/A_0003.JPG", "");
    card.write("DCIM/100SALTM/movie.mov", std::string("\0\0\0\x14"
                                                      "ftypqt  ",
                                                      12) +
                                              std::string(400, 'x'));
    card.write("DCIM/100SALTM/notes.CR2", "these are notes");
    card.write("DCIM/100SALTM/A_0001.JPG.xmp", "<x/>");
    fs::create_directory_symlink(card.at("DCIM"), card.at("DCIM/100SALTM/round"));
    fs::create_symlink(card.at("DCIM/100SALTM/A_0001.JPG"), card.at("DCIM/again.JPG"));
    fs::create_symlink(card.at("nowhere"), card.at("DCIM/dangling.JPG"));
    REQUIRE(::mkfifo(card.at("DCIM/pipe.JPG").c_str(), 0600) == 0);  // opening it would wait for ever

    const auto scan = pipeline::scan(engine(), {card.path + "/"}, {});
    REQUIRE(scan);
    REQUIRE(scan->files.size() == 3);
    CHECK(scan->counts.raw == 1);
    CHECK(scan->counts.jpeg == 2);
    CHECK(scan->counts.hidden == 2);
    CHECK(scan->counts.empty == 1);
    CHECK(scan->counts.other == 3);
    CHECK(scan->counts.sidecars == 1);
    CHECK(scan->counts.repeated == 2);
    REQUIRE(scan->errors.size() == 1);
    CHECK(scan->errors[0].file.ends_with("dangling.JPG"));
    for (const FileRef& f : scan->files) {
      CHECK(f.fingerprint != 0);
      CHECK(f.size == fs::file_size(f.path));
    }
  }

  TEST_CASE("a missing folder is an error, a single file is taken, a folder named twice counts once") {
    CHECK_FALSE(pipeline::scan(engine(), {"/no/such/folder"}, {}));
    const auto one = pipeline::scan(engine(), {test::sample_source() + "/DCIM/101SALTM/BSG_0012.JPG"}, {});
    REQUIRE(one);
    CHECK(one->files.size() == 1);
    const auto twice = pipeline::scan(
        engine(), {test::sample_source() + "/DCIM", test::sample_source() + "/DCIM/100SALTM"}, {});
    REQUIRE(twice);
    CHECK(twice->files.size() == 33);
  }

  TEST_CASE("limits on depth, size and number are kept") {
    test::TempFolder card;
    std::string deep;
    for (int i = 0; i < 40; ++i) deep += "d/";
    fs::create_directories(card.at(deep));
    fs::copy_file(test::sample_source() + "/DCIM/101SALTM/BSG_0012.JPG", card.at("a.jpg"));
    fs::copy_file(test::sample_source() + "/DCIM/101SALTM/BSG_0013.JPG", card.at("b.jpg"));
    const auto scan = pipeline::scan(engine(), {card.path}, {});
    REQUIRE(scan);
    REQUIRE(scan->errors.size() == 1);
    CHECK(scan->errors[0].cause == Cause::limit);
    Limits small;
    small.max_file_bytes = 1000;
    CHECK(pipeline::scan(*pipeline::make_local_engine(1, small), {card.path}, small)->files.empty());
    small = {};
    small.max_files = 1;
    CHECK_FALSE(pipeline::scan(engine(), {card.path}, small));
  }
}
