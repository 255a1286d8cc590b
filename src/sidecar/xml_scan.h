// A strict look at an XML text: where every element and attribute stands, so that a few of them can be
// changed and every other byte kept. XML 1.0 (5th ed.) and Namespaces 1.0, without document types.
#pragma once
#include <cstddef>
#include <map>
#include <string>
#include <string_view>
#include <vector>

#include "burstsieve/base/result.h"

namespace burstsieve::sidecar {

inline constexpr std::string_view kXmlNs = "http://www.w3.org/XML/1998/namespace";

struct Span {
  std::size_t begin = 0;
  std::size_t end = 0;
  std::size_t size() const { return end - begin; }
};

struct XmlAttribute {
  std::string ns;  // empty for an unprefixed name
  std::string_view name;
  std::string_view local;
  Span whole;  // with the white space before it
  Span value;  // between the quotes
};

struct XmlElement {
  int parent = -1;  // index into XmlDocument::elements
  int depth = 0;    // 0 = root
  std::string ns;
  std::string_view name;  // with prefix
  std::string_view local;
  Span whole;    // from '<' of the start tag to behind '>' of the end tag
  Span content;  // between the tags; empty when self-closed
  bool self_closed = false;
  bool has_children = false;
  std::vector<XmlAttribute> attributes;
};

// One place where a prefix stands for a namespace.
struct PrefixUse {
  Span span;                 // "p:" of a name (empty for a default namespace), or a declaration as a whole
  std::string ns;            // empty: a declaration that binds nothing
  bool declaration = false;  // span is ` xmlns:p="..."` with the white space before it
};

struct XmlDocument {
  std::string_view text;
  std::vector<XmlElement> elements;  // in document order; only those down to kKeptDepth
  std::vector<PrefixUse> prefixes;   // in document order, at every depth
  std::string_view of(Span s) const { return text.substr(s.begin, s.size()); }
};

// x:xmpmeta / rdf:RDF / rdf:Description / property: nothing deeper is ever edited.
inline constexpr int kKeptDepth = 3;
// The XMP toolkit descends recursively; real sidecars nest about 12 deep.
inline constexpr int kMaxDepth = 64;
// Elements and attributes together; a sidecar with long edit histories and masks holds a few thousand.
inline constexpr int kMaxItems = 20'000;
// Attributes and children other than rdf:li of one element, and the same over all elements two levels below
// the root (the properties). The XMP toolkit looks for duplicates in quadratic time: 20,000 take 2.4 s. Real
// sidecars have some hundred.
inline constexpr int kMaxNamed = 4'000;

// Bytes of a name or its prefix, and of the URI of one namespace. Both are repeated by every property below
// them, so that a file of 4 MiB could make us, or the XMP toolkit, hold 10 GiB. The longest in use are about
// 50 and 80.
inline constexpr std::size_t kMaxName = 128;
inline constexpr std::size_t kMaxNamespace = 1024;

// Cause::truncated when the text ends inside something, Cause::corrupt when it is not well-formed,
// Cause::unsupported for another encoding than UTF-8, Cause::limit for a document type, entities of its own,
// or more items, nesting or length than above. Errors name no file.
Result<XmlDocument> scan_xml(std::string_view text);

// The same document with every prefix replaced by one that is a function of its namespace alone (that of
// `known`, namespace to prefix, or else a hash), and no default namespaces: files that bind one prefix to
// different namespaces can then not be mixed up by a reader that keeps one table of prefixes for all files.
std::string with_neutral_prefixes(const XmlDocument& doc, const std::map<std::string, std::string>& known);

// `raw` attribute value or text with the predefined entities and character references resolved; what can't be
// resolved stays as it is.
std::string unescaped(std::string_view raw);
// Text for an element or a double-quoted attribute.
std::string escaped(std::string_view plain);

bool is_xml_space(char c);

}  // namespace burstsieve::sidecar
