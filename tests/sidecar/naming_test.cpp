#include "burstsieve/sidecar/naming.h"

#include <doctest/doctest.h>
#include <sys/stat.h>
#include <unistd.h>

#include <algorithm>

#include "base/memory_file_system.h"
#include "base/temp_folder.h"

using namespace burstsieve;
using test::MemoryFileSystem;
using test::TempFolder;

namespace {

FileRef file(const std::string& path, FileKind kind) {
  FileRef f;
  f.path = path;
  f.kind = kind;
  return f;
}
Frame raw_frame(const std::string& path) {
  Frame f;
  f.raw = file(path, FileKind::raw);
  return f;
}
Frame pair_frame() {
  Frame f = raw_frame("d/A.CR3");
  f.jpeg = file("d/A.JPG", FileKind::jpeg);
  return f;
}

using Names = std::vector<std::string>;

std::vector<SidecarPlace> places(const Frame& frame, const SidecarOptions& options, const Names& existing) {
  MemoryFileSystem fs;
  for (const auto& path : existing) fs.put(path, {'x'});
  const auto out = sidecar_places(frame, options, fs);
  REQUIRE_MESSAGE(out, out.error().line());
  CHECK(fs.operations == 0);
  return *out;
}

SidecarOptions with(SidecarNaming naming, PairSharing pairs = PairSharing::by_raw) {
  SidecarOptions o;
  o.naming = naming;
  o.pairs = pairs;
  return o;
}

}  // namespace

TEST_SUITE("sidecar/naming") {
  TEST_CASE("one photograph: the option decides for a new sidecar, an existing one is respected") {
    struct Row {
      SidecarNaming naming;
      Names existing;
      SidecarPlace expected;
    };
    using N = SidecarNaming;
    const std::vector<Row> rows{
        {N::with_extension, {}, {"d/A.CR3.xmp", {}}},
        {N::plain, {}, {"d/A.xmp", {}}},
        {N::with_extension, {"d/A.xmp"}, {"d/A.xmp", {}}},
        {N::with_extension, {"d/A.XMP"}, {"d/A.XMP", {}}},
        {N::plain, {"d/A.CR3.xmp"}, {"d/A.CR3.xmp", {}}},
        {N::plain, {"d/A.CR3.XMP"}, {"d/A.CR3.XMP", {}}},
        {N::with_extension, {"d/A.xmp", "d/A.CR3.xmp"}, {"d/A.CR3.xmp", {"d/A.xmp"}}},
        {N::plain, {"d/A.xmp", "d/A.CR3.xmp"}, {"d/A.xmp", {"d/A.CR3.xmp"}}},
        {N::with_extension, {"d/B.xmp", "d/A.JPG.xmp"}, {"d/A.CR3.xmp", {}}},
    };
    for (const Row& row : rows)
      CHECK(places(raw_frame("d/A.CR3"), with(row.naming), row.existing) == std::vector{row.expected});
  }

  TEST_CASE("a pair shares the raw's sidecar; one beside the JPEG still counts") {
    CHECK(places(pair_frame(), with(SidecarNaming::with_extension), {}) ==
          std::vector<SidecarPlace>{{"d/A.CR3.xmp", {}}});
    CHECK(places(pair_frame(), with(SidecarNaming::with_extension), {"d/A.JPG.xmp"}) ==
          std::vector<SidecarPlace>{{"d/A.CR3.xmp", {"d/A.JPG.xmp"}}});
  }

  TEST_CASE("each of a pair its own: never the same name") {
    CHECK(places(pair_frame(), with(SidecarNaming::plain, PairSharing::each), {}) ==
          std::vector<SidecarPlace>{{"d/A.xmp", {}}, {"d/A.JPG.xmp", {}}});
    CHECK(places(pair_frame(), with(SidecarNaming::with_extension, PairSharing::each), {"d/A.xmp"}) ==
          std::vector<SidecarPlace>{{"d/A.xmp", {}}, {"d/A.JPG.xmp", {}}});
  }

  TEST_CASE("odd names") {
    CHECK(places(raw_frame("d.x/noext"), with(SidecarNaming::plain), {}).at(0).path == "d.x/noext.xmp");
    CHECK(places(raw_frame("d/.cr3"), with(SidecarNaming::plain), {}).at(0).path == "d/.cr3.xmp");
    CHECK(places(raw_frame("A.b.CR3"), with(SidecarNaming::plain), {}).at(0).path == "A.b.xmp");
  }

  TEST_CASE("a folder of their own mirrors the photographs' folders") {
    SidecarOptions o;
    o.folder = "/out";
    o.root = "/card/";
    CHECK(places(raw_frame("/card/DCIM/100/A.CR3"), o, {}) ==
          std::vector<SidecarPlace>{{"/out/DCIM/100/A.CR3.xmp", {}}});
    // A sidecar beside the photograph is not written then, but a person's word in it counts.
    CHECK(places(raw_frame("/card/A.CR3"), o, {"/card/A.xmp"}) ==
          std::vector<SidecarPlace>{{"/out/A.CR3.xmp", {"/card/A.xmp"}}});
    MemoryFileSystem fs;
    CHECK_FALSE(sidecar_places(raw_frame("/elsewhere/A.CR3"), o, fs));
    CHECK_FALSE(sidecar_places(raw_frame("/cards/A.CR3"), o, fs));
    CHECK_FALSE(sidecar_places(raw_frame("/card/../etc/A.CR3"), o, fs));
  }

  TEST_CASE("both spellings of a suffix: one is written, a person's word in the other counts") {
    CHECK(places(raw_frame("d/A.CR3"), with(SidecarNaming::with_extension), {"d/A.CR3.XMP", "d/A.CR3.xmp"}) ==
          std::vector<SidecarPlace>{{"d/A.CR3.xmp", {"d/A.CR3.XMP"}}});
    CHECK(places(raw_frame("d/A.CR3"), with(SidecarNaming::plain), {"d/A.Xmp", "d/A.CR3.XMP"}) ==
          std::vector<SidecarPlace>{{"d/A.Xmp", {"d/A.CR3.XMP"}}});
  }

  TEST_CASE("a folder called like a sidecar is none") {
    TempFolder folder;
    RealFileSystem fs;
    REQUIRE(::mkdir(folder.at("A.xmp").c_str(), 0700) == 0);
    const auto found = sidecar_places(raw_frame(folder.at("A.CR3")), {}, fs);
    REQUIRE(found);
    CHECK(*found == std::vector<SidecarPlace>{{folder.at("A.CR3.xmp"), {}}});
  }

  TEST_CASE("names at the limit of 255 bytes: plain when only that has room, else an error that says so") {
    const auto name = [](std::size_t bytes, const std::string& extension) {
      return std::string(bytes - extension.size(), 'n') + extension;
    };
    const auto first = [](const std::string& photograph) {
      return places(raw_frame("d/" + photograph), {}, {}).at(0).path;
    };
    CHECK(first(name(251, ".CR3")) == "d/" + name(251, ".CR3") + ".xmp");
    CHECK(first(name(252, ".CR3")) == "d/" + name(248, "") + ".xmp");
    CHECK(first(name(255, ".CR3")) == "d/" + name(251, "") + ".xmp");
    MemoryFileSystem fs;
    const auto none = sidecar_places(raw_frame("d/" + name(255, ".ai")), {}, fs);
    REQUIRE_FALSE(none);
    CHECK(none.error().text == "its name is too long for a sidecar's (255 bytes)");
    // The JPEG of a pair can only be NAME.JPG.xmp.
    Frame pair = raw_frame("d/" + name(252, ".CR3"));
    pair.jpeg = file("d/" + name(252, ".JPG"), FileKind::jpeg);
    CHECK(places(pair, {}, {}).size() == 1);
    CHECK_FALSE(sidecar_places(pair, with(SidecarNaming::as_found, PairSharing::each), fs));
  }
}

namespace {

// A real folder with these files; what a new sidecar for `photograph` in it is called.
std::string named(const Names& existing, const std::string& photograph, SidecarOptions options = {}) {
  TempFolder folder;
  RealFileSystem fs;
  for (const auto& name : existing) folder.write(name, "x");
  folder.write(photograph, "x");
  const auto out = sidecar_places(raw_frame(folder.at(photograph)), options, fs);
  REQUIRE_MESSAGE(out, out.error().line());
  return leaf_of(out->at(0).path);
}

}  // namespace

TEST_SUITE("sidecar/naming of a folder") {
  TEST_CASE("a new sidecar is named as most of its folder are, unless the option says how") {
    const Names plain{"B.CR3", "B.xmp"}, extended{"B.CR3", "B.CR3.xmp"};
    CHECK(named({}, "A.CR3") == "A.CR3.xmp");
    CHECK(named({"B.CR3"}, "A.CR3") == "A.CR3.xmp");
    CHECK(named(plain, "A.CR3") == "A.xmp");
    CHECK(named(extended, "A.CR3") == "A.CR3.xmp");
    CHECK(named({"B.CR3", "B.XMP"}, "A.CR3") == "A.xmp");
    CHECK(named({"B.CR3", "B.xmp", "B.CR3.xmp"}, "A.CR3") == "A.CR3.xmp");
    CHECK(named({"B.CR3", "B.xmp", "C.CR3", "C.xmp", "D.CR3", "D.CR3.xmp"}, "A.CR3") == "A.xmp");
    CHECK(named(plain, "A.CR3", with(SidecarNaming::with_extension)) == "A.CR3.xmp");
    CHECK(named(extended, "A.CR3", with(SidecarNaming::plain)) == "A.xmp");
  }

  TEST_CASE("what says nothing: sidecars without photograph, and those that had no choice") {
    CHECK(named({"B.xmp"}, "A.CR3") == "A.CR3.xmp");
    CHECK(named({"A.b.xmp"}, "A.b.CR3") == "A.b.xmp");  // its own
    CHECK(named({"A.b.xmp", "A.b.CR3"}, "C.CR3") == "C.xmp");
    // NAME.JPG.xmp beside a raw of that name outweighs no plain one.
    CHECK(named({"B.CR3", "B.JPG", "B.xmp", "B.JPG.xmp", "C.CR3", "C.JPG", "C.JPG.xmp"}, "A.CR3") == "A.xmp");
    CHECK(named({"B.JPG", "B.JPG.xmp", "C.CR3"}, "A.CR3") == "A.CR3.xmp");
    CHECK(named({"noext", "noext.xmp", "B.CR3", "B.xmp"}, "A.CR3") == "A.xmp");
    const std::string longest(248, 'n');
    CHECK(named({longest + ".CR3", longest + ".xmp"}, "A.CR3") == "A.CR3.xmp");
  }

  TEST_CASE("neither the order of frames nor an interruption changes a name") {
    const std::vector<Names> folders{
        {"A.CR3", "B.CR3", "C.CR3", "D.JPG"},
        {"A.CR3", "B.CR3", "C.CR3", "D.JPG", "A.xmp"},
        {"A.CR3", "B.CR3", "C.CR3", "D.JPG", "A.xmp", "B.CR3.xmp"},
        {"A.CR3", "B.CR3", "C.CR3", "D.JPG", "A.xmp", "B.xmp", "C.CR3.xmp"},
        {"A.CR3", "A.JPG", "B.CR3", "B.JPG", "C.CR3", "C.JPG", "A.xmp"},
        {"A.CR3", "A.JPG", "B.CR3", "B.JPG", "C.CR3", "C.JPG"},
    };
    for (const Names& start : folders)
      for (const PairSharing pairs : {PairSharing::by_raw, PairSharing::each}) {
        std::vector<std::string> stems{"A", "B", "C", "D"};
        std::vector<Names> outcomes;
        do {
          TempFolder folder;
          RealFileSystem fs;
          for (const auto& name : start) folder.write(name, "x");
          for (const std::string& stem : stems) {
            Frame f;
            const auto has = [&](const std::string& n) {
              return std::count(start.begin(), start.end(), n) != 0;
            };
            if (has(stem + ".CR3")) f.raw = file(folder.at(stem + ".CR3"), FileKind::raw);
            if (has(stem + ".JPG")) f.jpeg = file(folder.at(stem + ".JPG"), FileKind::jpeg);
            if (!f.raw && !f.jpeg) continue;
            // A fresh look each time, as after an interruption.
            const auto found = sidecar_places(f, with(SidecarNaming::as_found, pairs), fs);
            REQUIRE(found);
            for (const auto& place : *found) folder.write(leaf_of(place.path), "ours");
          }
          outcomes.push_back(*fs.list(folder.path));
        } while (std::next_permutation(stems.begin(), stems.end()));
        for (const Names& outcome : outcomes) CHECK((outcome == outcomes.front()));
      }
  }

  TEST_CASE("a mirror takes after itself, then after the photographs' folder, which is only read") {
    TempFolder folder;
    RealFileSystem fs;
    REQUIRE(make_folders(fs, folder.at("card/DCIM"), 0700));
    for (const char* name : {"card/DCIM/A.CR3", "card/DCIM/B.CR3", "card/DCIM/C.CR3", "card/DCIM/B.xmp"})
      folder.write(name, "x");
    SidecarOptions o;
    o.folder = folder.at("out");
    o.root = folder.at("card");
    CHECK(sidecar_places(raw_frame(folder.at("card/DCIM/A.CR3")), o, fs)->at(0).path ==
          folder.at("out/DCIM/A.xmp"));
    REQUIRE(make_folders(fs, folder.at("out/DCIM"), 0700));
    folder.write("out/DCIM/C.CR3.xmp", "x");
    CHECK(sidecar_places(raw_frame(folder.at("card/DCIM/A.CR3")), o, fs)->at(0).path ==
          folder.at("out/DCIM/A.CR3.xmp"));
    CHECK(*sidecar_places(raw_frame(folder.at("card/DCIM/B.CR3")), o, fs) ==
          std::vector<SidecarPlace>{{folder.at("out/DCIM/B.CR3.xmp"), {folder.at("card/DCIM/B.xmp")}}});
  }

  TEST_CASE("each folder is listed once in a run") {
    TempFolder folder;
    RealFileSystem fs;
    for (const char* name : {"A.CR3", "B.CR3", "B.xmp"}) folder.write(name, "x");
    FolderNamings namings;
    CHECK(*namings.of(folder.path, folder.path, fs) == SidecarNaming::plain);
    folder.write("A.CR3.xmp", "x");
    folder.write("B.CR3.xmp", "x");
    CHECK(*namings.of(folder.path, folder.path, fs) == SidecarNaming::plain);
    CHECK(*FolderNamings().of(folder.path, folder.path, fs) == SidecarNaming::with_extension);
  }
}
