// Promise: elements and attributes stand where the scan says, one inside the other; with neutral prefixes the
// document holds the same elements, and doing it again changes nothing; escaping and encoding come back.
#include "xml_scan.h"

#include <algorithm>

#include "encoding.h"
#include "neutral_prefixes.h"
#include "support/target.h"
#include "xml_text.h"

using namespace burstsieve;
using namespace burstsieve::sidecar;

namespace {

bool within(Span inner, Span outer) {
  return outer.begin <= inner.begin && inner.begin <= inner.end && inner.end <= outer.end;
}

void require_nested(const XmlDocument& doc) {
  const Span all{0, doc.text.size()};
  for (std::size_t i = 0; i < doc.elements.size(); ++i) {
    const XmlElement& e = doc.elements[i];
    fuzz::require(within(e.whole, all) && doc.text[e.whole.begin] == '<' && doc.text[e.whole.end - 1] == '>',
                  "an element stands between its angle brackets");
    fuzz::require(within(e.content, e.whole), "content lies in its element");
    fuzz::require(e.parent < static_cast<int>(i), "a parent comes first");
    if (e.parent >= 0)
      fuzz::require(within(e.whole, doc.elements[static_cast<std::size_t>(e.parent)].content),
                    "an element lies in its parent");
    std::size_t at = e.whole.begin;
    for (const XmlAttribute& a : e.attributes) {
      fuzz::require(a.whole.begin >= at && within(a.whole, e.whole) && within(a.value, a.whole),
                    "attributes follow each other in the start tag");
      at = a.whole.end;
    }
  }
}

void require_same(const XmlDocument& a, const XmlDocument& b) {
  fuzz::require(a.elements.size() == b.elements.size(), "as many elements as before");
  for (std::size_t i = 0; i < a.elements.size(); ++i)
    fuzz::require(a.elements[i].ns == b.elements[i].ns && a.elements[i].local == b.elements[i].local &&
                      a.elements[i].parent == b.elements[i].parent,
                  "the same elements as before");
}

}  // namespace

int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const std::string_view raw(reinterpret_cast<const char*>(data), size);
  fuzz::require(unescaped(escaped(raw)) == raw, "escaping comes back");
  const auto text = decoded(Bytes(data, size));
  if (!text) {
    fuzz::refused(text.error());
    return 0;
  }
  const ByteBuffer back = encoded(text->utf8, text->encoding);
  fuzz::require(std::equal(back.begin(), back.end(), data, data + size), "the bytes come back from the text");
  const auto doc = scan_xml(*text);
  if (!doc) {
    fuzz::refused(doc.error());
    return 0;
  }
  require_nested(*doc);
  const std::map<std::string, std::string> known{{"http://ns.adobe.com/xap/1.0/", "xmp"}};
  const std::string neutral = with_neutral_prefixes(*doc, known);
  const auto neutral_text =
      decoded(Bytes(reinterpret_cast<const std::uint8_t*>(neutral.data()), neutral.size()));
  fuzz::require(static_cast<bool>(neutral_text), "with neutral prefixes it is still text");
  const auto again = scan_xml(*neutral_text);
  fuzz::require(static_cast<bool>(again), "with neutral prefixes it is still well-formed");
  require_same(*doc, *again);
  fuzz::require(with_neutral_prefixes(*again, known) == neutral, "neutral prefixes are stable");
  fuzz::came_out("accepted");
  return 0;
}
