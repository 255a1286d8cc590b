#include "packet.h"

#include <algorithm>
#include <map>
#include <optional>
#include <utility>

namespace burstsieve::sidecar {

namespace {

// How often one of our properties may be repeated; programs that spread or copy descriptions make two.
constexpr std::size_t kMaxRepeats = 8;

Result<std::size_t> find_rdf(const XmlDocument& doc) {
  std::optional<std::size_t> found;
  for (std::size_t i = 0; i < doc.elements.size(); ++i) {
    const XmlElement& e = doc.elements[i];
    if (e.depth > 1 || e.ns != kRdfNs || e.local != "RDF") continue;
    if (found) return Error{Cause::corrupt, {}, "is not XMP: holds rdf:RDF twice"};
    found = i;
  }
  if (!found) return Error{Cause::corrupt, {}, "is not XMP: holds no rdf:RDF"};
  return *found;
}

// Where a property of ours, or the rating, stands for the 1st, 2nd, ... time.
using Repeats = std::vector<std::vector<Span>>;

Repeats find_repeats(const XmlDocument& doc, std::size_t rdf) {
  Repeats out;
  std::map<std::pair<std::string, std::string>, std::size_t> seen;
  const auto note = [&](const std::string& ns, std::string_view local, Span whole) {
    if (!may_change(ns, local)) return;
    const std::size_t n = seen[{ns, std::string(local)}]++;
    if (out.size() <= n) out.resize(n + 1);
    out[n].push_back(whole);
  };
  for (const XmlElement& e : doc.elements) {
    const bool description = e.parent == static_cast<int>(rdf);
    if (description)
      for (const XmlAttribute& a : e.attributes) note(a.ns, a.local, a.whole);
    else if (e.parent >= 0 &&
             doc.elements[static_cast<std::size_t>(e.parent)].parent == static_cast<int>(rdf))
      note(e.ns, e.local, e.whole);
  }
  return out;
}

Result<std::vector<XmpProperty>> read_without(const XmlText& text, const Repeats& repeats, std::size_t kept) {
  std::vector<Edit> cuts;
  for (std::size_t n = 0; n < repeats.size(); ++n)
    if (n != kept)
      for (const Span& span : repeats[n]) cuts.push_back({span, ""});
  const XmlText rest{applied(text.utf8, std::move(cuts)), text.body, text.encoding};
  const auto doc = scan_xml(rest);
  if (!doc) return doc.error();
  return read_xmp(*doc);
}

// RDF forbids a property twice and the library refuses it, but ours may have been copied by another program:
// what any of the copies says must be known, since all of them are going to be replaced.
Result<std::vector<XmpProperty>> read_all(const XmlText& text, const XmlDocument& doc, std::size_t rdf) {
  const Repeats repeats = find_repeats(doc, rdf);
  if (repeats.size() <= 1) return read_xmp(doc);
  if (repeats.size() > kMaxRepeats) return Error{Cause::corrupt, {}, "is not XMP: a property many times"};
  auto out = read_without(text, repeats, 0);
  for (std::size_t n = 1; out && n < repeats.size(); ++n) {
    auto more = read_without(text, repeats, n);
    if (!more) return more.error();
    for (XmpProperty& p : *more)
      if (may_change(p.ns, p.top())) out->push_back(std::move(p));
  }
  return out;
}

}  // namespace

bool may_change(std::string_view ns, std::string_view local) {
  return ns == kOurNs || (ns == kXmpNs && local == "Rating");
}

Result<Packet> read_packet(const XmlText& text) {
  auto doc = scan_xml(text);
  if (!doc) return doc.error();
  const auto rdf = find_rdf(*doc);
  if (!rdf) return rdf.error();
  auto properties = read_all(text, *doc, *rdf);
  if (!properties) return properties.error();
  return Packet{std::move(*doc), *rdf, std::move(*properties)};
}

std::string applied(std::string_view text, std::vector<Edit> edits) {
  std::stable_sort(edits.begin(), edits.end(),
                   [](const Edit& a, const Edit& b) { return a.span.begin < b.span.begin; });
  std::string out;
  std::size_t at = 0;
  for (const Edit& e : edits) {
    if (e.span.begin < at) continue;  // inside a removal
    out += text.substr(at, e.span.begin - at);
    out += e.text;
    at = e.span.end;
  }
  return out + std::string(text.substr(at));
}

}  // namespace burstsieve::sidecar
