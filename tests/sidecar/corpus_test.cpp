// What other programs write, and everything that XMP allows, keeps its meaning in the eyes of other readers.
#include "sidecar/corpus.h"

#include <doctest/doctest.h>
#include <iconv.h>

#include <algorithm>
#include <cstdlib>
#include <filesystem>

#include "base/temp_folder.h"
#include "base/test_data.h"
#include "sidecar/helpers.h"

using namespace burstsieve;
using namespace burstsieve::test;

namespace {

using Files = std::map<std::string, std::string>;

// By the C library, not by ours.
std::string converted(const std::string& utf8, const char* to) {
  const iconv_t how = ::iconv_open(to, "UTF-8");
  REQUIRE(how != reinterpret_cast<iconv_t>(-1));
  std::string in = utf8, out(utf8.size() * 4 + 16, '\0');
  char *from = in.data(), *target = out.data();
  std::size_t left = in.size(), room = out.size();
  REQUIRE(::iconv(how, &from, &left, &target, &room) != static_cast<std::size_t>(-1));
  ::iconv_close(how);
  out.resize(out.size() - room);
  return out;
}

std::string with_line_ends(const std::string& text, const std::string& end) {
  std::string out;
  for (const char c : text) out += c == '\n' ? end : std::string(1, c);
  return out;
}

const std::string kMark = "\xef\xbb\xbf";

std::string declared(const std::string& encoding) {
  return "<?xml version=\"1.0\" encoding='" + encoding + "' standalone=\"yes\" ?>\n";
}

// One text in every form a file of it can have.
Files forms_of(const std::string& name, const std::string& text) {
  return {
      {name, text},
      {name + "-crlf", with_line_ends(text, "\r\n")},
      {name + "-cr", with_line_ends(declared("utf-8") + text, "\r")},
      {name + "-utf8-mark", kMark + text},
      {name + "-utf8-mark-declared-crlf", kMark + with_line_ends(declared("UTF-8") + text, "\r\n")},
      {name + "-utf16le-mark", converted(kMark + text, "UTF-16LE")},
      {name + "-utf16be-mark-declared-crlf",
       converted(kMark + with_line_ends(declared("UTF-16") + text, "\r\n"), "UTF-16BE")},
      {name + "-utf16le-declared", converted(declared("UTF-16LE") + text, "UTF-16LE")},
      {name + "-utf16be-cr", converted(with_line_ends(text, "\r"), "UTF-16BE")},
  };
}

std::string cases_folder() {
  return std::string(BURSTSIEVE_SOURCE_DIR) + "/tests/sidecar/cases";
}

bool fetched(const std::filesystem::path& folder) {
  if (std::filesystem::exists(folder)) return true;
  MESSAGE("test data not fetched (tools/test-data.sh): not tried");
  return false;
}

}  // namespace

TEST_SUITE("sidecar/corpus") {
  TEST_CASE("hard cases by hand, in every encoding and with every line end") {
    Files merged, human;
    for (const auto& [name, text] : sidecars_in(cases_folder())) {
      if (name.starts_with("refused-")) continue;
      (name.starts_with("person-") ? human : merged).merge(forms_of(name, text));
    }
    REQUIRE(merged.size() >= 9 * 30);
    const auto a = visit_all(merged);
    CHECK(a.human.empty());
    CHECK(a.refused.empty());
    CHECK(a.merged.size() == merged.size());
    // What neither library reads before is repeated or doubly prefixed by design; exiv2 0.27 reads no
    // UTF-16LE.
    for (const auto& name : a.unseen_by_exempi) CHECK_MESSAGE(name.starts_with("ours-repeated"), name);
    for (const auto& name : a.unseen_by_exiv2)
      CHECK_MESSAGE((name.starts_with("ours-") || name.find("-utf16le") != std::string::npos), name);
    REQUIRE(human.size() >= 9 * 5);
    const auto b = visit_all(human);
    CHECK(b.human.size() == human.size());
  }

  TEST_CASE(
      "encoding, byte order mark, line ends and declaration stay: converted back it is the plain result") {
    for (const std::string name :
         {"properties-as-elements", "packet-writable-padded", "keywords-in-many-scripts"}) {
      const std::string text = sidecars_in(cases_folder()).at(name);
      const std::string plain = text_of(merge(bytes_of(text), entry_with(4))->bytes);
      for (const char* to : {"UTF-16LE", "UTF-16BE"})
        for (const char* end : {"\n", "\r\n", "\r"})
          for (const std::string& front : {std::string(), kMark, kMark + declared("UTF-16")}) {
            const auto form = [&](const std::string& t) {
              return converted(with_line_ends(front + t, end), to);
            };
            CHECK((text_of(merge(bytes_of(form(text)), entry_with(4))->bytes) == form(plain)));
          }
    }
  }

  TEST_CASE("a file that calls itself ASCII stays ASCII") {
    SidecarEntry entry = entry_with(4);
    entry.verdict.better = "Z\u00fcri-\U0001F426.CR3";
    const auto merged = merge(bytes_of(declared("US-ASCII") + rated("0")), entry);
    REQUIRE_MESSAGE(merged, merged.error().text);
    const std::string text = text_of(merged->bytes);
    CHECK(text.find("Z&#252;ri-&#128038;.CR3") != std::string::npos);
    CHECK(std::all_of(text.begin(), text.end(), [](char c) { return static_cast<unsigned char>(c) < 0x80; }));
    CHECK(merge(merged->bytes, entry)->change == SidecarChange::unchanged);
  }

  TEST_CASE("sidecars that exiftool makes from camera files, expanded and compact") {
    const auto source = std::filesystem::path(test::data_cache()) / "exiv2/test/data";
    if (!fetched(source)) return;
    TempFolder folder;
    std::string files;
    int count = 0;
    std::vector<std::string> names;
    for (const auto& e : std::filesystem::directory_iterator(source)) {
      const std::string leaf = e.path().filename().string();
      if (e.path().extension() == ".exv" && leaf.find("poc") == std::string::npos) names.push_back(leaf);
    }
    std::sort(names.begin(), names.end());
    for (std::size_t i = 0; i < names.size(); i += 5, ++count)
      files += " '" + (source / names[i]).string() + "'";
    REQUIRE(count >= 15);
    const std::string also =
        " '-xmp:all<all' -XMP-dc:Subject=heron '-XMP-dc:Subject=Graureiher & Möwe' -XMP-dc:Subject=アオサギ"
        " '-XMP-dc:Title=By the quay' '-XMP-dc:Title-de=Am Kai' -XMP-dc:Title-ja=波止場"
        " -XMP-exif:GPSLatitude=53.5 -XMP-exif:GPSLongitude=-8.25"
        " '-XMP-xmpMM:History=[{Action=saved,When=2026:05:01 06:30:00},{Action=derived,Parameters=a|}b}]'"
        " '-XMP-iptcExt:LocationShown=[{City=Quay},{City=Mudflat,CountryName=Nowhere}]'"
        " '-XMP-lr:HierarchicalSubject=birds|herons'";
    const auto make = [&](const std::string& tag, const std::string& options) {
      return options + " -o '" + folder.path + "/%f-" + tag + ".xmp' -tagsfromfile @" + also;
    };
    // Some camera files have nothing that fits into XMP or carry warnings: what was made counts.
    static_cast<void>(
        std::system(("exiftool -q -q -m " + make("expanded", "") + " -execute " +
                     make("compact", "-api Compact=Shorthand,OneDesc,NoPadding,NoIndent") + " -execute " +
                     make("one-line", "-api Compact=NoNewline,AllSpace -charset Latin1") + " -common_args" +
                     files + " >/dev/null 2>&1")
                        .c_str()));
    const Files made = sidecars_in(folder.path);
    REQUIRE(static_cast<int>(made.size()) >= 2 * count);
    const auto out = visit_all(made);
    CHECK(out.refused.empty());
    CHECK(out.unseen_by_exiv2.empty());
    CHECK(out.unseen_by_exempi.empty());
    for (const std::string& name : out.human) CHECK((made.at(name).find("xmp:Rating") != std::string::npos));
    CHECK(out.merged.size() >= made.size() * 3 / 4);
  }

  TEST_CASE("the sidecars that Debian's sources of exiv2 and exiftool carry") {
    Files all;
    for (const char* place : {"exiv2/test/data", "libimage-exiftool-perl/t/images"}) {
      if (!fetched(std::filesystem::path(test::data_cache()) / place)) return;
      all.merge(sidecars_in((std::filesystem::path(test::data_cache()) / place).string()));
    }
    REQUIRE(all.size() >= 20);
    const auto out = visit_all(all);
    // Refused by right: fuzzers' files without rdf:RDF, and two with bytes or characters that XML forbids.
    for (const std::string& r : out.refused)
      CHECK_MESSAGE(
          (r.find("_poc") != std::string::npos || r == "exiv2-bug1108: holds bytes that are no UTF-8" ||
           r == "XMP2: holds a character that XML does not allow (U+001A)"),
          r);
    CHECK(out.human == std::vector<std::string>{"XMP", "XMP6"});
    CHECK(out.merged.size() >= 12);
  }
}
