#include <doctest/doctest.h>

#include "burstsieve/decode/sniff.h"
#include "metadata_bytes.h"

namespace burstsieve::decode {
namespace {

ByteBuffer of(std::string_view text, std::size_t size = 64) {
  ByteBuffer out(text.begin(), text.end());
  out.resize(std::max(size, out.size()));
  return out;
}

std::string format(const ByteBuffer& head, std::string_view name) {
  const auto s = sniff(head, name);
  if (!s) return "";
  CHECK((s->kind == FileKind::jpeg) == (s->format == "JPEG"));
  return s->format;
}

Directory made_by(const char* make) {
  return {{0x010f, ascii(make)}, {0x0110, ascii("Model")}};
}

TEST_CASE("formats with a signature of their own") {
  using namespace std::string_view_literals;
  CHECK(format(of("\xff\xd8\xff\xe1"sv), "a.jpg") == "JPEG");
  CHECK(format(of("\xff\xd8\xff\xe1"sv), "a.nef") == "JPEG");  // the content counts
  CHECK(format(of("II*\0\x10\0\0\0CR\x02\0"sv), "x") == "CR2");
  CHECK(format(of("IIRO\x08\0\0\0"sv), "x") == "ORF");
  CHECK(format(of("IIRS\x08\0\0\0"sv), "x") == "ORF");
  CHECK(format(of("IIU\0\x18\0\0\0"sv), "x.rw2") == "RW2");
  CHECK(format(of("FUJIFILMCCD-RAW 0201"sv), "x") == "RAF");
  CHECK(format(of("II\x1a\0\0\0HEAPCCDR"sv), "x") == "CRW");
  CHECK(format(of("\0\0\0\x18"
                  "ftypcrx \0\0\0\1"sv),
               "x") == "CR3");
  CHECK(format(of("\0MRM\0\0"sv), "x") == "MRW");
  CHECK(format(of("FOVb"sv), "x") == "X3F");
}

TEST_CASE("what is not ours, whatever it is called") {
  using namespace std::string_view_literals;
  for (const char* name : {"a.jpg", "a.nef", "a.dng", "a.cr3", "a.raf"}) {
    CAPTURE(name);
    CHECK(format(of("\x89PNG\r\n\x1a\n"sv), name).empty());
    CHECK(format(of("\0\0\0\x18"
                    "ftypheic"sv),
                 name)
              .empty());
    CHECK(format(of("\0\0\0\x18"
                    "ftypisom"sv),
                 name)
              .empty());
    CHECK(format(of("\0\0\0\x18"
                    "ftypqt  "sv),
                 name)
              .empty());
    CHECK(format(of("<?xpacket begin="sv), name).empty());
    CHECK(format(of("RIFF....WEBPVP8 "sv), name).empty());
    CHECK(format(of("GIF89a"sv), name).empty());
    CHECK(format(of("8BPS"sv), name).empty());
    CHECK(format(of(""sv), name).empty());
    CHECK(format({}, name).empty());
  }
}

TEST_CASE("TIFF-based raws are told apart by what they say and by their suffix") {
  Directory dng = made_by("Plover");
  dng[0xc612] = Entry{1, 4, {1, 4, 0, 0}};
  CHECK(format(tiff(dng, {}), "x.tif") == "DNG");
  CHECK(format(tiff(dng, {}), "x.gpr") == "GPR");

  Directory nef = made_by("NIKON CORPORATION");
  nef[0x0103] = shorts({34713});
  CHECK(format(tiff(nef, {}), "DSC_0001.NEF") == "NEF");
  CHECK(format(tiff(nef, {}), "renamed") == "NEF");

  Directory arw = made_by("SONY");
  arw[0x0106] = shorts({32803});
  CHECK(format(tiff(arw, {}), "DSC0001.ARW") == "ARW");
  CHECK(format(tiff(arw, {}), "DSC0001.SR2") == "SR2");

  CHECK(format(tiff(made_by("PENTAX"), {}), "IMGP1.PEF") == "PEF");  // the suffix and a camera's name
  CHECK(format(tiff(made_by("PENTAX"), {}), "scan.tif").empty());    // an edited picture
  Directory plain{{0x0100, longs({100})}, {0x0101, longs({100})}, {0x0106, shorts({2})}};
  CHECK(format(tiff(plain, {}), "scan.tif").empty());
  CHECK(format(tiff(plain, {}), "scan.nef").empty());  // nothing in it says camera
}

TEST_CASE("a directory beyond the head: the suffix decides") {
  const ByteBuffer file = tiff(made_by("Plover"), {}, 100'000);
  const ByteBuffer head(file.begin(), file.begin() + 65'536);
  CHECK(format(head, "x.dng") == "DNG");
  CHECK(format(head, "x.tif").empty());
}

TEST_CASE("a mosaic in a sub-directory is found") {
  Directory first = made_by("SAMSUNG");
  first[0x014a] = longs({4000});
  ByteBuffer file = tiff(first, {});
  file.resize(4000);
  write_directory(file, {{0x0106, shorts({32803})}});
  CHECK(format(file, "x") == "SRW");
}

TEST_CASE("hostile directories end") {
  // A directory that is its own successor and its own sub-directory.
  Directory loop = made_by("Plover");
  loop[0x014a] = longs({8});
  ByteBuffer file = tiff(loop, {});
  const std::size_t next = 8 + 2 + 12 * loop.size();
  file[next] = 8;
  CHECK(format(file, "x.tif").empty());

  // Counts no file can hold.
  Directory huge = made_by("Plover");
  huge[0x014a] = Entry{4, 0xffffffffu, {0, 0, 0, 0}};
  huge[0x010f] = Entry{2, 0xffffffffu, {0, 0, 0, 0}};
  CHECK(format(tiff(huge, {}), "x.tif").empty());

  // Every prefix and every single damaged byte: any answer, no crash.
  Directory dng = made_by("Plover");
  dng[0x014a] = longs({8, 8, 8, 8, 8, 8});
  dng[0xc612] = Entry{1, 4, {1, 4, 0, 0}};
  const ByteBuffer whole = tiff(dng, {{0x9003, ascii("2024:01:01 00:00:00")}});
  for (std::size_t n = 0; n <= whole.size(); ++n) {
    const auto s = sniff(Bytes(whole.data(), n), "x.tif");
    CHECK((!s || s->kind == FileKind::raw));
  }
  for (std::size_t i = 4; i < whole.size(); ++i)
    for (const std::uint8_t v : {std::uint8_t{0}, std::uint8_t{0x7f}, std::uint8_t{0xff}}) {
      ByteBuffer bent = whole;
      bent[i] = v;
      const auto s = sniff(bent, "x.dng");
      CHECK((!s || s->kind == FileKind::raw));
    }
}

}  // namespace
}  // namespace burstsieve::decode
