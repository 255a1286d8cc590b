// A strict look at an XML text: where every element and attribute stands, so that a few of them can be
// changed and every other byte kept. XML 1.0 (5th ed.) and Namespaces 1.0, without document types.
#pragma once
#include <cstddef>
#include <string>
#include <string_view>
#include <vector>

#include "burstsieve/base/result.h"
#include "encoding.h"

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
  std::string_view text;             // all of it; spans count from its start
  std::size_t body = 0;              // XmlText::body
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

// `text` must outlive the document. Cause::truncated when it ends inside something, Cause::corrupt when it is
// not well-formed, Cause::limit for a document type, entities of its own, or more items, nesting or length
// than above. Errors name no file.
Result<XmlDocument> scan_xml(const XmlText& text);

// The prefix that a declaration binds; empty for the default namespace.
std::string_view prefix_of(const XmlDocument& doc, const PrefixUse& declaration);

// An attribute that binds a prefix or the default namespace.
bool is_declaration(const XmlAttribute& a);

}  // namespace burstsieve::sidecar
