// What is no whole XMP packet is refused with one line and left as it is.
#include <doctest/doctest.h>

#include <set>

#include "base/memory_file_system.h"
#include "burstsieve/sidecar/writer.h"
#include "sidecar/corpus.h"
#include "sidecar/helpers.h"

using namespace burstsieve;
using namespace burstsieve::test;

namespace {

std::string utf16(const std::string& ascii, bool big) {
  std::string out;
  for (const char c : ascii) out += big ? std::string{'\0', c} : std::string{c, '\0'};
  return out;
}

// The reason; the file and its folder are as before.
Error refusal(const std::string& bytes) {
  MemoryFileSystem fs;
  fs.put("/d/a.xmp", bytes_of(bytes));
  const auto done = write_sidecar(fs, {"/d/a.xmp", {}}, entry_with(3), false);
  CHECK(fs.operations == 0);
  CHECK((fs.names().at("/d/a.xmp")->live == bytes_of(bytes)));
  REQUIRE_FALSE(done);
  CHECK(done.error().line().starts_with("/d/a.xmp: "));
  CHECK(done.error().line().find_first_of("\r\n") == std::string::npos);
  CHECK(done.error().text.size() > 8);
  CHECK(done.error().text.size() < 120);
  CHECK_FALSE(read_record(bytes_of(bytes)));
  CHECK_FALSE(read_override(fs, {"/d/a.xmp", {}}));
  return done.error();
}

std::string labelled(const std::string& label) {
  return packet("<rdf:Description rdf:about=\"\" xmlns:xmp=\"http://ns.adobe.com/xap/1.0/\"><xmp:Label>" +
                label + "</xmp:Label></rdf:Description>");
}

const std::string kWrapped = "<?xpacket begin=\"\xef\xbb\xbf\" id=\"W5M0MpCehiHzreSzNTczkc9d\"?>\n" +
                             labelled("Z\xc3\xbcri \xf0\x9f\x90\xa6") + "  \n<?xpacket end=\"w\"?>";

}  // namespace

TEST_SUITE("sidecar/damage") {
  TEST_CASE("cases by hand: malformed, hostile, or not XMP") {
    std::set<std::string> reasons;
    std::size_t count = 0;
    const std::string folder = std::string(BURSTSIEVE_SOURCE_DIR) + "/tests/sidecar/cases";
    for (const auto& [name, text] : sidecars_in(folder)) {
      if (!name.starts_with("refused-")) continue;
      INFO(name);
      const Error e = refusal(text);
      CHECK((e.cause == Cause::corrupt || e.cause == Cause::limit || e.cause == Cause::truncated ||
             e.cause == Cause::unsupported));
      reasons.insert(e.text);
      ++count;
    }
    CHECK(count >= 40);
    CHECK(reasons.size() >= 20);  // a person can tell them apart
  }

  TEST_CASE("cut at every byte, wrapped, with characters of several bytes, in UTF-8 and UTF-16") {
    REQUIRE(merge(bytes_of(kWrapped), entry_with(3)));
    for (std::size_t n = 1; n < kWrapped.size(); ++n) {
      INFO("byte " << n);
      CHECK(refusal(kWrapped.substr(0, n)).cause == Cause::truncated);
    }
    const std::string ascii =
        "<?xml version=\"1.0\"?><?xpacket begin='' id='x'?>" + labelled("blue") + "\n<?xpacket end='w'?>";
    for (const bool big : {false, true}) {
      const std::string whole = (big ? "\xfe\xff" : "\xff\xfe") + utf16(ascii, big);
      REQUIRE(merge(bytes_of(whole), entry_with(3)));
      for (std::size_t n = 1; n < whole.size(); ++n) {
        INFO("byte " << n);
        CHECK(refusal(whole.substr(0, n)).cause == Cause::truncated);
      }
    }
  }

  TEST_CASE("bytes that are no UTF-8") {
    // Unicode 15 §3.9: lone continuation, cut sequence, overlong, surrogate, beyond U+10FFFF, Latin-1.
    for (const char* bytes :
         {"\x80", "\xc3 ", "\xc0\xaf", "\xc1\xbf", "\xe0\x80\xaf", "\xe0\x9f\xbf", "\xf0\x80\x80\xaf",
          "\xf0\x8f\xbf\xbf", "\xed\xa0\x80", "\xed\xbf\xbf", "\xed\xa0\xbd\xed\xb0\xa6", "\xf4\x90\x80\x80",
          "\xf5\x80\x80\x80", "\xff", "\xfe", "Z\xfcri"})
      CHECK(refusal(labelled(bytes)).text == "holds bytes that are no UTF-8");
    // Beside them: the first and last that are.
    for (const char* bytes : {"\xc2\xa0", "\xdf\xbf", "\xe0\xa0\x80", "\xed\x9f\xbf", "\xee\x80\x80",
                              "\xef\xbf\xbd", "\xf0\x90\x80\x80", "\xf4\x8f\xbf\xbf"})
      CHECK(merge(bytes_of(labelled(bytes)), entry_with(3)));
  }

  TEST_CASE("characters that XML forbids: NUL, controls, U+FFFE, U+FFFF, in text and around it") {
    for (const std::string& bytes :
         {std::string(1, '\0'), std::string("\x01"), std::string("\x0b"), std::string("\x1f"),
          std::string("\xef\xbf\xbe"), std::string("\xef\xbf\xbf")}) {
      CHECK(refusal(labelled(bytes)).cause == Cause::corrupt);
      CHECK(refusal(labelled("a") + bytes).cause == Cause::corrupt);
      CHECK(refusal(bytes + bytes + labelled("a")).cause == Cause::corrupt);
    }
    // What a file system leaves after a power cut.
    CHECK(refusal(std::string(4096, '\0')).cause == Cause::corrupt);
    CHECK(refusal(kWrapped + std::string(512, '\0')).cause == Cause::corrupt);
    CHECK(refusal(kWrapped.substr(0, 200) + std::string(kWrapped.size() - 200, '\0')).cause ==
          Cause::corrupt);
  }

  TEST_CASE("UTF-16 with half characters, NULs, and against its declaration; UTF-32") {
    const auto with = [](const std::string& units, bool big) {
      const std::string text = labelled("@");
      const auto at = text.find('@');
      return (big ? "\xfe\xff" : "\xff\xfe") + utf16(text.substr(0, at), big) + units +
             utf16(text.substr(at + 1), big);
    };
    REQUIRE(merge(bytes_of(with(std::string("\xd8\x3d\xdc\x26", 4), true)), entry_with(3)));
    REQUIRE(merge(bytes_of(with(std::string("\x3d\xd8\x26\xdc", 4), false)), entry_with(3)));
    const std::string lone = "holds half a character (a lone UTF-16 surrogate)";
    CHECK(refusal(with(std::string("\xd8\x3d", 2), true)).text == lone);
    CHECK(refusal(with(std::string("\x3d\xd8", 2), false)).text == lone);
    CHECK(refusal(with(std::string("\xdc\x26", 2), true)).text == lone);
    CHECK(refusal(with(std::string("\xdc\x26\xd8\x3d", 4), true)).text == lone);
    CHECK(refusal(with(std::string(2, '\0'), true)).text ==
          "holds a character that XML does not allow (U+0000)");
    const auto says = [](const std::string& encoding) {
      return "<?xml version=\"1.0\" encoding=\"" + encoding + "\"?>" + labelled("a");
    };
    CHECK(refusal(utf16(says("UTF-8"), true)).cause == Cause::corrupt);
    CHECK(refusal(utf16(says("UTF-16LE"), true)).cause == Cause::corrupt);
    CHECK(refusal(says("UTF-16")).cause == Cause::corrupt);
    CHECK(refusal(says("windows-1252")).text ==
          "declares the encoding windows-1252; only UTF-8 and UTF-16 are read");
    for (const bool big : {false, true}) {
      std::string wide;
      for (const char c : labelled("a"))
        wide += utf16(big ? std::string{'\0', c} : std::string{c, '\0'}, big);
      CHECK(refusal(wide).cause == Cause::unsupported);
    }
  }

  TEST_CASE("a property of ours many times is not read again and again") {
    std::string inside = "<rdf:Description rdf:about='' xmlns:xmp='http://ns.adobe.com/xap/1.0/'>";
    for (int i = 0; i < 1000; ++i) inside += "<xmp:Rating>0</xmp:Rating>";
    CHECK(refusal(packet(inside + "</rdf:Description>")).cause == Cause::corrupt);
  }
}
