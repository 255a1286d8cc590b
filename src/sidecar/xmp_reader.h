// What an XMP reader makes of a packet: the second opinion behind every edit.
#pragma once
#include <string>
#include <string_view>
#include <vector>

#include "burstsieve/base/result.h"
#include "xml_scan.h"

namespace burstsieve::sidecar {

inline constexpr std::string_view kXmpNs = "http://ns.adobe.com/xap/1.0/";  // ISO 16684-1 §8.4
inline constexpr std::string_view kRdfNs = "http://www.w3.org/1999/02/22-rdf-syntax-ns#";
// Ours. ".invalid" (RFC 2606 §2): a name, never an address.
inline constexpr std::string_view kOurNs = "https://burstsieve.invalid/ns/1.0/";
inline constexpr std::string_view kOurPrefix = "burstsieve";

// One property, flattened: structure fields and array items stand on their own.
struct XmpProperty {
  std::string ns;     // namespace URI of the top-level property
  std::string path;   // "Rating", "Reasons[1]/burstsieve:Code"
  std::string type;   // the library's name of the value type
  std::string value;  // as text
  // Name of the top-level property: "Rating[1]" and "Rating/?x:y" are the rating, whatever someone made of
  // it.
  std::string_view top() const { return std::string_view(path).substr(0, path.find_first_of("[/")); }
  bool operator==(const XmpProperty&) const = default;
};

// Every property, in the library's order. Cause::corrupt when it is no XMP. Any number of threads: the
// library's parser is neither thread-safe nor free of global state, so calls take turns. Prefixes in paths
// are those of with_neutral_prefixes(), or the library's own for namespaces that it knows.
Result<std::vector<XmpProperty>> read_xmp(const XmlDocument& doc);

}  // namespace burstsieve::sidecar
