#include "editor.h"

#include <algorithm>
#include <set>
#include <string>
#include <string_view>
#include <vector>

#include "record_text.h"

namespace burstsieve::sidecar {

namespace {

// `span` with the white space before it, as far back as the previous mark-up.
Span with_space_before(std::string_view text, Span span) {
  std::size_t begin = span.begin;
  while (begin > 0 && is_xml_space(text[begin - 1])) --begin;
  return begin > 0 && text[begin - 1] == '>' ? Span{begin, span.end} : span;
}

class Editor {
 public:
  explicit Editor(const Packet& packet) : packet_(packet), doc_(packet.doc) {}

  // The text without our properties and xmp:Rating, with the record of `entry` as the last description.
  std::string with(const SidecarEntry& entry) {
    for (std::size_t i = 0; i < doc_.elements.size(); ++i)
      if (doc_.elements[i].parent == static_cast<int>(packet_.rdf)) clear(i);
    insert(entry);
    return applied(doc_.text, std::move(edits_));
  }

 private:
  static bool is_about(const XmlAttribute& a) {
    return a.local == "about" && (a.ns == kRdfNs || a.name == "about");
  }

  // Takes our properties out of one description, or the description when nothing else is in it.
  void clear(std::size_t index) {
    const XmlElement& d = doc_.elements[index];
    std::vector<Edit> cuts;
    bool others = d.ns != kRdfNs || d.local != "Description";
    bool ours = false;
    std::size_t between = d.content.begin;  // comments and instructions are somebody's, too
    for (const XmlAttribute& a : d.attributes) {
      if (is_declaration(a) || is_about(a)) continue;
      if (!may_change(a.ns, a.local)) {
        others = true;
        continue;
      }
      ours |= a.ns == kOurNs;
      cuts.push_back({a.whole, ""});
    }
    for (std::size_t i = index + 1; i < doc_.elements.size(); ++i) {
      const XmlElement& e = doc_.elements[i];
      if (e.depth <= d.depth) break;
      if (e.parent != static_cast<int>(index)) continue;
      others |= !is_blank({between, e.whole.begin});
      between = e.whole.end;
      if (!may_change(e.ns, e.local)) {
        others = true;
        continue;
      }
      ours |= e.ns == kOurNs;
      cuts.push_back({with_space_before(doc_.text, e.whole), ""});
    }
    others |= !is_blank({between, d.content.end});
    if (ours && !others) cuts = {{with_space_before(doc_.text, d.whole), ""}};
    edits_.insert(edits_.end(), cuts.begin(), cuts.end());
  }

  bool is_blank(Span span) const {
    const std::string_view text = doc_.of(span);
    return std::all_of(text.begin(), text.end(), is_xml_space);
  }

  // The first line end of the file; a file on one line gets ours.
  std::string_view line_end() const {
    const auto at = doc_.text.find_first_of("\r\n");
    if (at == std::string_view::npos || doc_.text[at] == '\n') return "\n";
    return doc_.text.substr(at, 2) == "\r\n" ? "\r\n" : "\r";
  }

  void insert(const SidecarEntry& entry) {
    const XmlElement& rdf = doc_.elements[packet_.rdf];
    const RecordStyle style = style_for(rdf);
    const std::string indent = indent_of(rdf);
    const std::string lines(style.lines);
    const std::string block = lines + record_text(entry, style);
    if (rdf.self_closed) {
      const std::string tail = ">" + block + lines + indent + "</" + std::string(rdf.name) + ">";
      edits_.push_back({{rdf.whole.end - 2, rdf.whole.end}, tail});
      return;
    }
    std::size_t at = rdf.content.end;
    while (at > rdf.content.begin && is_xml_space(doc_.text[at - 1])) --at;
    edits_.push_back({{at, at}, at == rdf.content.end ? block + lines + indent : block});
  }

  RecordStyle style_for(const XmlElement& rdf) const {
    RecordStyle style;
    style.about = about();
    style.indent = indent_of(rdf) + " ";
    style.lines = line_end();
    const auto colon = rdf.name.find(':');
    style.declare_rdf = colon == std::string_view::npos;
    if (!style.declare_rdf) style.rdf = rdf.name.substr(0, colon);
    style.xmp = prefix_for(kXmpNs, "xmp");
    style.ours = prefix_for(kOurNs, kOurPrefix);
    return style;
  }

  // The prefix that the file has for this namespace already, or else one that stands for nothing else in it:
  // exiv2 0.27 refuses a file with two prefixes for one namespace, and mixes up one prefix for two. The last
  // of several: that is ours from then on.
  std::string prefix_for(std::string_view ns, std::string_view usual) const {
    std::set<std::string_view> taken;
    std::string out;
    for (const PrefixUse& use : doc_.prefixes) {
      if (!use.declaration) continue;
      const std::string_view prefix = prefix_of(doc_, use);
      if (use.ns == ns && !prefix.empty()) out = prefix;
      taken.insert(prefix);
    }
    if (!out.empty()) return out;
    out = usual;
    for (int n = 1; taken.count(out) != 0; ++n) out = std::string(usual) + std::to_string(n);
    return out;
  }

  // The white space between the line start and rdf:RDF.
  std::string indent_of(const XmlElement& rdf) const {
    std::size_t begin = rdf.whole.begin;
    while (begin > 0 && (doc_.text[begin - 1] == ' ' || doc_.text[begin - 1] == '\t')) --begin;
    if (begin > 0 && doc_.text[begin - 1] != '\n' && doc_.text[begin - 1] != '\r') return "";
    return std::string(doc_.text.substr(begin, rdf.whole.begin - begin));
  }

  // All descriptions of a packet must be about the same thing (ISO 16684-1 §7.4).
  std::string_view about() const {
    for (const XmlElement& e : doc_.elements)
      if (e.parent == static_cast<int>(packet_.rdf))
        for (const XmlAttribute& a : e.attributes)
          if (is_about(a)) return doc_.of(a.value);
    return "";
  }

  const Packet& packet_;
  const XmlDocument& doc_;
  std::vector<Edit> edits_;
};

}  // namespace

std::string with_record(const Packet& packet, const SidecarEntry& entry) {
  return Editor(packet).with(entry);
}

}  // namespace burstsieve::sidecar
