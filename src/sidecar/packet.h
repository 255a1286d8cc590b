// A sidecar as text, as places in it, and as properties.
#pragma once
#include <cstddef>
#include <string>
#include <string_view>
#include <vector>

#include "burstsieve/base/result.h"
#include "xml_scan.h"
#include "xmp_reader.h"

namespace burstsieve::sidecar {

struct Packet {
  XmlDocument doc;
  std::size_t rdf = 0;  // index of rdf:RDF among its elements
  std::vector<XmpProperty>
      properties;  // ours and the rating several times when the file says them several times
};

// `text` must outlive the packet. Errors as scan_xml() and read_xmp(); Cause::corrupt without exactly one
// rdf:RDF, as the root or right below it.
Result<Packet> read_packet(const XmlText& text);

// What we may change: our namespace and xmp:Rating.
bool may_change(std::string_view ns, std::string_view local);

struct Edit {
  Span span;
  std::string text;
};

// `text` with every span replaced; one that begins inside an earlier one is left out.
std::string applied(std::string_view text, std::vector<Edit> edits);

}  // namespace burstsieve::sidecar
