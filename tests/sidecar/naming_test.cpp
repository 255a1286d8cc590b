#include "burstsieve/sidecar/naming.h"

#include <doctest/doctest.h>

#include "base/memory_file_system.h"

using namespace burstsieve;
using test::MemoryFileSystem;

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

using Files = std::vector<std::string>;

std::vector<SidecarPlace> places(const Frame& frame, const SidecarOptions& options, const Files& existing) {
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
      Files existing;
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
}
