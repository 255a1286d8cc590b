// What others wrote stays as it is.
#include <doctest/doctest.h>

#include <algorithm>
#include <atomic>
#include <exiv2/xmp_exiv2.hpp>
#include <thread>

#include "burstsieve/decode/exiv2_gate.h"
#include "sidecar/helpers.h"

using namespace burstsieve;
using namespace burstsieve::test;

namespace {

std::string merged_text(const std::string& existing, std::optional<int> rating = 3) {
  const auto merged = merge(bytes_of(existing), entry_with(rating));
  REQUIRE_MESSAGE(merged, merged.error().text);
  REQUIRE(merged->change == SidecarChange::updated);
  return text_of(merged->bytes);
}

// `text` without our block, which must be there once.
std::string without_block(std::string text, const std::string& line_end = "\n") {
  const std::string mark = " xmlns:burstsieve=\"https://burstsieve.invalid/ns/1.0/\">";
  const auto inside = text.find(mark);
  REQUIRE(inside != std::string::npos);
  CHECK(text.find(mark, inside + 1) == std::string::npos);
  const auto begin = text.rfind(line_end, text.rfind("<rdf:Description", inside));
  const std::string closing = "</rdf:Description>";
  const auto end = text.find(closing, inside) + closing.size();
  return text.erase(begin, end - begin);
}

const std::string kForeign = packet(
    "  <!-- kept -->\n"
    "  <rdf:Description rdf:about='uuid:\"1\"'\n"
    "    xmlns:dc=\"http://purl.org/dc/elements/1.1/\" xmlns:a=\"urn:example:a\"\n"
    "    a:x=\"1\"   a:y='&lt;2&#x41;'>\n"
    "   <dc:subject><rdf:Bag><rdf:li>heron</rdf:li><rdf:li><![CDATA[a<b]]></rdf:li></rdf:Bag></dc:subject>\n"
    "   <a:s rdf:parseType=\"Resource\"><a:t>deep</a:t></a:s>\n"
    "  </rdf:Description>");

}  // namespace

TEST_SUITE("sidecar/merge: what others wrote") {
  TEST_CASE("every byte outside our block stays: comments, layout, quotes, CDATA, rdf:about") {
    CHECK(without_block(merged_text(kForeign)) == kForeign);
  }

  TEST_CASE("our block speaks about the same thing as the others") {
    CHECK(merged_text(kForeign).find("rdf:about=\"uuid:&quot;1&quot;\"") != std::string::npos);
  }

  TEST_CASE("visits do not pile up: back to the same verdict is back to the same bytes") {
    const std::string once = merged_text(kForeign, 3);
    const std::string twice = merged_text(once, -1);
    CHECK(twice != once);
    CHECK(merged_text(twice, 3) == once);
    CHECK(without_block(merged_text(twice, std::nullopt)) == kForeign);
  }

  TEST_CASE("line ends, byte order mark and packet wrapper stay") {
    std::string windows;
    for (const char c : kForeign) windows += c == '\n' ? std::string("\r\n") : std::string(1, c);
    const std::string out = merged_text(windows);
    CHECK(without_block(out, "\r\n") == windows);
    CHECK(std::count(out.begin(), out.end(), '\n') == std::count(out.begin(), out.end(), '\r'));

    const std::string wrapped =
        "\xef\xbb\xbf<?xpacket begin=\"\xef\xbb\xbf\" id=\"W5M0MpCehiHzreSzNTczkc9d\"?>\n" + kForeign +
        "   \n<?xpacket end=\"w\"?>";
    CHECK(without_block(merged_text(wrapped)) == wrapped);
  }

  TEST_CASE("an empty rdf:RDF, self-closed or not, takes a record") {
    const std::string open = "<rdf:RDF xmlns:rdf=\"http://www.w3.org/1999/02/22-rdf-syntax-ns#\"";
    for (const std::string& text : {open + "/>", open + "></rdf:RDF>", open + ">\n</rdf:RDF>",
                                    "<x:xmpmeta xmlns:x=\"adobe:ns:meta/\">" + open + " /></x:xmpmeta>"})
      CHECK(read_record(bytes_of(merged_text(text)))->rating == "3");
  }

  TEST_CASE("another prefix for rdf and for our own namespace") {
    const std::string odd =
        "<r:RDF xmlns:r=\"http://www.w3.org/1999/02/22-rdf-syntax-ns#\"><r:Description r:about=\"\" "
        "xmlns:burstsieve=\"urn:example:not-ours\" burstsieve:Verdict=\"theirs\"/></r:RDF>";
    const std::string out = merged_text(odd);
    CHECK(out.find("burstsieve:Verdict=\"theirs\"") != std::string::npos);
    CHECK(read_record(bytes_of(out))->verdict == "keep");
  }

  TEST_CASE("our record is found after another program spread it as attributes") {
    const std::string spread = packet(
        "  <rdf:Description rdf:about=\"\" xmlns:xmp=\"http://ns.adobe.com/xap/1.0/\"\n"
        "    xmlns:b=\"https://burstsieve.invalid/ns/1.0/\" xmlns:a=\"urn:example:a\"\n"
        "    a:keep=\"me\" xmp:Rating=\"2\" b:WrittenRating=\"2\" b:Verdict=\"keep\">\n"
        "   <b:Reasons><rdf:Seq><rdf:li>old</rdf:li></rdf:Seq></b:Reasons>\n"
        "   <xmp:Label>blue</xmp:Label>\n"
        "  </rdf:Description>");
    const std::string out = merged_text(spread, 5);
    CHECK(read_record(bytes_of(out))->rating == "5");
    CHECK(out.find("a:keep=\"me\"") != std::string::npos);
    CHECK(out.find("<xmp:Label>blue</xmp:Label>") != std::string::npos);
    CHECK(out.find("b:WrittenRating=") == std::string::npos);
    CHECK(out.find("old") == std::string::npos);
  }

  TEST_CASE("a property that another program put into our description stays") {
    std::string ours = text_of(merge({}, entry_with(2))->bytes);
    const std::string tail = "</rdf:Description>";
    ours.insert(ours.find(tail), "<xmp:Label>mine</xmp:Label>");
    CHECK(merged_text(ours, 3).find("<xmp:Label>mine</xmp:Label>") != std::string::npos);
  }

  TEST_CASE("one prefix, two namespaces, in files read one after the other") {
    const auto file = [](const std::string& uri, const std::string& value) {
      return packet("  <rdf:Description rdf:about=\"\" xmlns:p=\"" + uri + "\" p:x=\"" + value + "\"/>");
    };
    const std::string one = file("urn:example:one/", "1");
    const std::string two = file("urn:example:two/", "2");
    const std::string first = merged_text(one);
    const std::string second = merged_text(two);
    CHECK(without_block(first) == one);
    CHECK(without_block(second) == two);
    CHECK(merged_text(one) == first);
    // Also a prefix that the standard gives to something else.
    const std::string stolen =
        packet("  <rdf:Description rdf:about=\"\" xmlns:xmp=\"urn:example:three/\" xmp:Rating=\"9\"/>");
    CHECK(without_block(merged_text(stolen)) == stolen);
  }

  TEST_CASE("a file read earlier by the same library can't change what a rating is") {
    const auto rebind = [](const std::string& prefix) {
      const decode::Exiv2Gate gate;
      Exiv2::XmpData data;
      const std::string text =
          packet("<rdf:Description rdf:about='' xmlns:" + prefix + "='urn:example:evil/'><" + prefix +
                 ":Rating>9</" + prefix + ":Rating></rdf:Description>");
      CHECK(Exiv2::XmpParser::decode(data, text) == 0);
    };
    for (const char* prefix : {"xmp", "burstsieve", "dc", "a"}) {
      rebind(prefix);
      CHECK(read_record(bytes_of(rated("3")))->rating == "3");
      CHECK(without_block(merged_text(kForeign)) == kForeign);
    }
  }

  TEST_CASE("two threads and many different files give what one thread gives") {
    constexpr int kFiles = 60;
    std::vector<std::string> inputs;
    std::vector<std::string> expected;
    for (int i = 0; i < kFiles; ++i) {
      const std::string n = std::to_string(i);
      inputs.push_back(packet("  <rdf:Description rdf:about=\"\" xmlns:q=\"urn:example:" + n + "/\" q:v=\"" +
                              n + "\"><q:s rdf:parseType=\"Resource\"><q:t>" + n +
                              "</q:t></q:s></rdf:Description>"));
      expected.push_back(merged_text(inputs.back(), i % 5 + 1));
    }
    std::atomic<int> wrong = 0;
    const auto work = [&](int offset) {
      for (int i = 0; i < kFiles; ++i) {
        const auto k = static_cast<std::size_t>((i * 7 + offset) % kFiles);
        const auto merged = merge(bytes_of(inputs[k]), entry_with(static_cast<int>(k) % 5 + 1));
        if (!merged || text_of(merged->bytes) != expected[k]) ++wrong;
      }
    };
    std::thread a(work, 0);
    std::thread b(work, 30);
    a.join();
    b.join();
    CHECK(wrong == 0);
  }
}

TEST_SUITE("sidecar/merge: refusals") {
  Cause cause_of(const std::string& existing) {
    const auto merged = merge(bytes_of(existing), entry_with(3));
    REQUIRE_FALSE(merged);
    CHECK_FALSE(merged.error().text.empty());
    return merged.error().cause;
  }

  TEST_CASE("a sidecar cut anywhere is refused as truncated") {
    const std::string whole = kForeign.substr(0, kForeign.rfind('>') + 1);
    for (std::size_t n = 1; n < whole.size(); ++n)
      CHECK_MESSAGE(cause_of(whole.substr(0, n)) == Cause::truncated, "at byte " << n);
  }

  TEST_CASE("what is not XMP is refused") {
    CHECK(cause_of("hello") == Cause::corrupt);
    CHECK(cause_of("<a/>") == Cause::corrupt);
    CHECK(cause_of("<html><body/></html>") == Cause::corrupt);
    CHECK(cause_of(packet("") + packet("")) == Cause::corrupt);
    CHECK(cause_of(packet("<a></b>")) == Cause::corrupt);
    CHECK(cause_of(packet("<p:a/>")) == Cause::corrupt);
    CHECK(cause_of(packet("&bogus;")) == Cause::corrupt);
    CHECK(cause_of(std::string(100, '\0')) == Cause::corrupt);
    CHECK(cause_of(rated("3") + "trailing") == Cause::corrupt);
    CHECK(cause_of(packet(
              "<rdf:Description rdf:about='' xmlns:a='urn:a'><a:x>\xff\xfe</a:x></rdf:Description>")) ==
          Cause::corrupt);
    // A foreign property twice: RDF forbids it, and no reader could say which one counts.
    CHECK(cause_of(packet("<rdf:Description rdf:about='' xmlns:xmp='http://ns.adobe.com/xap/1.0/' "
                          "xmp:Label='a'><xmp:Label>b</xmp:Label></rdf:Description>")) == Cause::corrupt);
  }

  TEST_CASE("document types, entities, other encodings, size and depth") {
    CHECK(cause_of("<!DOCTYPE a [<!ENTITY b \"c\">]>" + rated("0")) == Cause::limit);
    CHECK(cause_of(packet("<!ENTITY b \"c\">")) == Cause::limit);
    CHECK(cause_of(std::string("\xff\xfe\0\0<\0\0\0", 8)) == Cause::unsupported);
    CHECK(cause_of("<?xml version=\"1.0\" encoding=\"ISO-8859-1\"?>" + rated("0")) == Cause::unsupported);
    CHECK(cause_of(packet(std::string(4 << 20, ' '))) == Cause::limit);
    std::string deep;
    for (int i = 0; i < 100; ++i) deep += "<a>";
    CHECK(cause_of(packet(deep)) == Cause::limit);
    std::string many;
    for (int i = 0; i < 20'000; ++i) many += "<a/>";
    CHECK(cause_of(packet(many)) == Cause::limit);
    const auto described = [](int properties, int items) {
      std::string inside = "<rdf:Description rdf:about='' xmlns:a='urn:example:a'>";
      for (int i = 0; i < properties; ++i)
        inside += "<a:p" + std::to_string(i) + ">x</a:p" + std::to_string(i) + ">";
      inside += "<a:bag><rdf:Bag>";
      for (int i = 0; i < items; ++i) inside += "<rdf:li>x</rdf:li>";
      return packet(inside + "</rdf:Bag></a:bag></rdf:Description>");
    };
    CHECK(cause_of(described(4'000, 0)) == Cause::limit);
    // Long histories are no attack.
    CHECK(read_record(bytes_of(merged_text(described(500, 10'000))))->rating == "3");
  }

  TEST_CASE("no single damaged byte is ever merged into something else") {
    // Whatever happens to a byte: the file is refused, or every other byte stays.
    for (std::size_t i = 0; i < kForeign.size(); i += 3) {
      std::string damaged = kForeign;
      damaged[i] = static_cast<char>(damaged[i] ^ 0x11);
      const auto merged = merge(bytes_of(damaged), entry_with(3));
      if (merged && merged->change == SidecarChange::updated)
        CHECK_MESSAGE(without_block(text_of(merged->bytes)) == damaged, "at byte " << i);
    }
  }
}
