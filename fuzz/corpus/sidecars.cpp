// Sidecars too long to stand in fuzz/hostile/merge as files, and small XML for the scanner alone.
#include <string>

#include "cases.h"

namespace burstsieve::fuzz {
namespace {

const std::string kHead =
    "<x:xmpmeta xmlns:x=\"adobe:ns:meta/\">"
    "<rdf:RDF xmlns:rdf=\"http://www.w3.org/1999/02/22-rdf-syntax-ns#\">";
const std::string kTail = "</rdf:RDF></x:xmpmeta>\n";

ByteBuffer bytes(const std::string& text) {
  return ByteBuffer(text.begin(), text.end());
}

std::string repeated(const std::string& what, int times) {
  std::string out;
  for (int i = 0; i < times; ++i) out += what;
  return out;
}

std::string packet(const std::string& declarations, const std::string& properties) {
  return kHead + "<rdf:Description rdf:about=\"\"" + declarations + ">" + properties + "</rdf:Description>" +
         kTail;
}

void add_large(Cases& to) {
  const auto add = [&](const char* name, const std::string& text) {
    to.push_back({"merge", name, bytes(text)});
    to.push_back({"xml_scan", name, bytes(text)});
  };
  const std::string open = "<p:a rdf:parseType=\"Resource\">";
  add("nested-65-deep.xmp", packet(" xmlns:p=\"urn:marsh\"", repeated(open, 62) + repeated("</p:a>", 62)));
  // Every use of a prefix carries its namespace: unbounded, 2 MiB x 5000 uses are 10 GiB.
  add("namespace-of-2-mib-used-5000-times.xmp",
      packet(" xmlns:p=\"urn:" + std::string(2 << 20, 'm') + "\"",
             "<p:a><rdf:Bag>" + repeated("<rdf:li p:b=\"\"/>", 5000) + "</rdf:Bag></p:a>"));
  // Every property's path repeats the names above it.
  const std::string name(20'000, 'n');
  add("names-of-20-kb-above-5000-items.xmp",
      packet(" xmlns:p=\"urn:marsh\"", repeated("<p:" + name + " rdf:parseType=\"Resource\">", 40) +
                                           "<p:a><rdf:Bag>" + repeated("<rdf:li>x</rdf:li>", 5000) +
                                           "</rdf:Bag></p:a>" + repeated("</p:" + name + ">", 40)));
  std::string attributes;
  for (int i = 0; i < 5000; ++i) attributes += " p:a" + std::to_string(i) + "=\"\"";
  add("five-thousand-attributes.xmp", packet(" xmlns:p=\"urn:marsh\"" + attributes, ""));
  std::string prefixes;
  for (int i = 0; i < 21'000; ++i) prefixes += " xmlns:p" + std::to_string(i) + "=\"urn:m\"";
  add("twenty-one-thousand-prefixes.xmp", packet(prefixes, ""));
  add("longer-than-4-mib.xmp", packet("", "<!--" + std::string(4 << 20, '-') + "-->"));
  add("four-mib-of-blanks.xmp", std::string(4 << 20, ' '));
}

void add_small(Cases& to) {
  const auto add = [&](const char* name, const std::string& text) {
    to.push_back({"xml_scan", name, bytes(text)});
  };
  add("empty.xml", "");
  add("one-bracket.xml", "<");
  add("name-that-is-a-colon.xml", "<:/>");
  add("two-colons-in-a-name.xml", "<a:b:c xmlns:a=\"u\"/>");
  add("slash-without-bracket.xml", "<a/");
  add("end-tag-of-another.xml", "<a></b>");
  add("second-root.xml", "<a/><b/>");
  add("comment-cut.xml", "<a><!--");
  add("cdata-cut.xml", "<a><![CDATA[");
  add("entity-cut.xml", "<a>&am");
  add("control-character.xml", std::string("<a>\x01</a>"));
  add("attribute-without-blank.xml", "<a b=\"\"c=\"\"/>");
  add("attribute-twice.xml", "<a xmlns:p=\"u\" p:b=\"1\" p:b=\"2\"/>");
  add("xml-namespace-under-another-prefix.xml",
      "<a xmlns:y=\"http://www.w3.org/XML/1998/namespace\" y:lang=\"en\"/>");
  add("prefix-bound-to-nothing.xml", "<a xmlns:p=\"\" p:b=\"1\"/>");
  // The neutral prefix may be longer than the one it stands for.
  add("name-as-long-as-allowed.xml", "<p:" + std::string(128, 'n') + " xmlns:p=\"u\"/>");
  add("name-longer-than-allowed.xml", "<p:" + std::string(129, 'n') + " xmlns:p=\"u\"/>");
  add("namespace-of-quotes.xml", "<p:a xmlns:p='" + std::string(1024, '"') + "'/>");
  add("namespace-with-a-reference-to-a-control-character.xml", "<p:a xmlns:p=\"u&#011;\"/>");
  add("default-namespace-taken-back.xml", "<a xmlns=\"u\"><b xmlns=\"\"><c/></b></a>");
}

}  // namespace

void add_sidecars(Cases& to) {
  add_large(to);
  add_small(to);
}

}  // namespace burstsieve::fuzz
