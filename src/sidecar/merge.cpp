#include "burstsieve/sidecar/merge.h"

#include <algorithm>
#include <charconv>
#include <cmath>
#include <string_view>
#include <tuple>

#include "burstsieve/base/text.h"
#include "record_text.h"
#include "xml_scan.h"
#include "xmp_reader.h"

namespace burstsieve {

namespace {

using namespace sidecar;

// Enough of rdf:RDF to edit it.
struct Packet {
  XmlDocument doc;
  std::size_t rdf = 0;  // index of its element
  std::vector<XmpProperty> properties;
};

std::string_view as_text(Bytes bytes) {
  return {reinterpret_cast<const char*>(bytes.data()), bytes.size()};
}

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

Result<Packet> read_packet(std::string_view text) {
  if (text.size() > kMaxSidecarBytes) return Error{Cause::limit, {}, "is longer than any sidecar (4 MiB)"};
  auto doc = scan_xml(text);
  if (!doc) return doc.error();
  const auto rdf = find_rdf(*doc);
  if (!rdf) return rdf.error();
  auto properties = read_xmp(*doc);
  if (!properties) return properties.error();
  return Packet{std::move(*doc), *rdf, std::move(*properties)};
}

bool is_ours(const XmpProperty& p) {
  return p.ns == kOurNs;
}
bool is_rating(const XmpProperty& p) {
  // Also "Rating[1]" and "Rating/?x:y": whatever someone made of it, it is the rating.
  return p.ns == kXmpNs && p.path.substr(0, 6) == "Rating" &&
         (p.path.size() == 6 || p.path[6] == '[' || p.path[6] == '/');
}
bool is_foreign(const XmpProperty& p) {
  return !is_ours(p) && !is_rating(p);
}

template <class Wanted>
std::vector<XmpProperty> only(const std::vector<XmpProperty>& all, Wanted wanted) {
  std::vector<XmpProperty> out;
  std::copy_if(all.begin(), all.end(), std::back_inserter(out), wanted);
  // The library lists namespaces in the order it met them, which an edit may change; arrays carry their order
  // in their paths.
  std::sort(out.begin(), out.end(), [](const XmpProperty& a, const XmpProperty& b) {
    return std::tie(a.ns, a.path, a.type, a.value) < std::tie(b.ns, b.path, b.type, b.value);
  });
  return out;
}

std::string our_value(const std::vector<XmpProperty>& all, std::string_view path) {
  for (const XmpProperty& p : all)
    if (is_ours(p) && p.path == path) return p.value;
  return {};
}

// An xmp:Rating as text, whatever its form; empty when absent.
std::string rating_text(const std::vector<XmpProperty>& all) {
  std::string out;
  for (const XmpProperty& p : all)
    if (is_rating(p)) out += (out.empty() ? "" : " ") + p.value;
  return one_line(trimmed(out));
}

std::optional<double> as_number(std::string_view text) {
  double value = 0;
  const auto end = text.data() + text.size();
  const auto [at, ec] = std::from_chars(text.data(), end, value);
  if (ec != std::errc() || at != end || !std::isfinite(value)) return std::nullopt;
  return value;
}

std::optional<int> as_rating(std::string_view text) {
  const auto value = as_number(text);
  if (!value || *value != std::floor(*value) || *value < -1 || *value > 5) return std::nullopt;
  return static_cast<int>(*value);
}

// A rating that we did not write, or that is not what we wrote. 0 says "no rating" (ISO 16684-1 §8.4): next
// to nothing of ours it is nobody's word, in place of a rating of ours it is a person's.
std::optional<HumanRating> human_word(const std::vector<XmpProperty>& all) {
  const std::string text = rating_text(all);
  const auto value = as_number(text);
  const auto ours = as_rating(our_value(all, "WrittenRating"));
  const bool none = text.empty() || (value && *value == 0);
  if (!ours && none) return std::nullopt;
  if (ours && value && *value == *ours) return std::nullopt;
  return HumanRating{value, text, ours};
}

struct Edit {
  Span span;
  std::string text;
};

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
  static bool goes(std::string_view ns, std::string_view local) {
    return ns == kOurNs || (ns == kXmpNs && local == "Rating");
  }
  static bool is_about(const XmlAttribute& a) {
    return a.local == "about" && (a.ns == kRdfNs || a.name == "about");
  }
  static bool is_declaration(const XmlAttribute& a) {
    return a.name == "xmlns" || a.name.substr(0, 6) == "xmlns:";
  }

  // Takes our properties out of one description, or the description when nothing else is in it.
  void clear(std::size_t index) {
    const XmlElement& d = doc_.elements[index];
    std::vector<Edit> cuts;
    bool others = d.ns != kRdfNs || d.local != "Description" ||
                  doc_.of(d.content).find("<!--") != std::string_view::npos;
    bool ours = false;
    for (const XmlAttribute& a : d.attributes) {
      if (is_declaration(a) || is_about(a)) continue;
      if (!goes(a.ns, a.local)) {
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
      if (!goes(e.ns, e.local)) {
        others = true;
        continue;
      }
      ours |= e.ns == kOurNs;
      cuts.push_back({with_space_before(doc_.text, e.whole), ""});
    }
    if (ours && !others) cuts = {{with_space_before(doc_.text, d.whole), ""}};
    edits_.insert(edits_.end(), cuts.begin(), cuts.end());
  }

  void insert(const SidecarEntry& entry) {
    const XmlElement& rdf = doc_.elements[packet_.rdf];
    const std::string_view lines = doc_.text.find("\r\n") == std::string_view::npos ? "\n" : "\r\n";
    const std::string indent = indent_of(rdf);
    const std::string block =
        std::string(lines) + record_text(entry, about(), indent + " ", lines, rdf.name != "rdf:RDF");
    if (rdf.self_closed) {
      const std::string tail = ">" + block + std::string(lines) + indent + "</" + std::string(rdf.name) + ">";
      edits_.push_back({{rdf.whole.end - 2, rdf.whole.end}, tail});
      return;
    }
    std::size_t at = rdf.content.end;
    while (at > rdf.content.begin && is_xml_space(doc_.text[at - 1])) --at;
    edits_.push_back({{at, at}, at == rdf.content.end ? block + std::string(lines) + indent : block});
  }

  // The white space between the line start and rdf:RDF.
  std::string indent_of(const XmlElement& rdf) const {
    std::size_t begin = rdf.whole.begin;
    while (begin > 0 && (doc_.text[begin - 1] == ' ' || doc_.text[begin - 1] == '\t')) --begin;
    if (begin > 0 && doc_.text[begin - 1] != '\n') return "";
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

Error failed(const char* what) {
  return Error{Cause::corrupt, {}, std::string("could not be merged safely: ") + what};
}

// `text` must read as the old foreign properties and exactly the wanted record.
Status verified(std::string_view text, const std::vector<XmpProperty>& before,
                const std::vector<XmpProperty>& wanted) {
  const auto after = read_packet(text);
  if (!after) return failed(after.error().text.c_str());
  if (only(after->properties, is_foreign) != only(before, is_foreign))
    return failed("a property of another program would change");
  if (only(after->properties, is_ours) != only(wanted, is_ours))
    return failed("our record reads differently");
  if (only(after->properties, is_rating) != only(wanted, is_rating))
    return failed("the rating reads differently");
  return Done{};
}

bool says_it_already(const std::vector<XmpProperty>& now, const std::vector<XmpProperty>& wanted) {
  // A rating that another program rewrote as "3.0" is still ours, and still right.
  return only(now, is_ours) == only(wanted, is_ours) &&
         as_number(rating_text(now)) == as_number(rating_text(wanted));
}

Status checked(const SidecarEntry& entry) {
  const auto rating = entry.verdict.rating;
  if (rating && (*rating < -1 || *rating == 0 || *rating > 5))
    return Error{Cause::unsupported, {}, "a rating must be -1 or 1 to 5"};
  if (rating && entry.verdict.verdict == Verdict::undecided)
    return Error{Cause::unsupported, {}, "an undecided frame has no rating"};
  return Done{};
}

Merged merged(SidecarChange change, std::string_view text) {
  return Merged{change, ByteBuffer(text.begin(), text.end()), std::nullopt};
}

}  // namespace

const char* name_of(SidecarChange change) {
  switch (change) {
    case SidecarChange::created:
      return "created";
    case SidecarChange::updated:
      return "updated";
    case SidecarChange::unchanged:
      return "unchanged";
    case SidecarChange::human:
      return "human";
  }
  return "unchanged";
}

Result<Merged> merge(Bytes existing, const SidecarEntry& entry) {
  if (auto s = checked(entry); !s) return s.error();
  const std::string fresh = fresh_sidecar(entry);
  if (fresh.size() > kMaxSidecarBytes) return Error{Cause::limit, {}, "would be longer than any sidecar"};
  const auto wanted = read_packet(fresh);
  if (!wanted) return failed(wanted.error().text.c_str());
  if (existing.empty()) return merged(SidecarChange::created, fresh);

  const auto packet = read_packet(as_text(existing));
  if (!packet) return packet.error();
  if (auto human = human_word(packet->properties)) return Merged{SidecarChange::human, {}, std::move(human)};
  if (says_it_already(packet->properties, wanted->properties)) return Merged{};

  const std::string text = Editor(*packet).with(entry);
  if (auto s = verified(text, packet->properties, wanted->properties); !s) return s.error();
  return merged(SidecarChange::updated, text);
}

Result<SidecarRecord> read_record(Bytes existing) {
  if (existing.empty()) return SidecarRecord{};
  const auto packet = read_packet(as_text(existing));
  if (!packet) return packet.error();
  const auto& all = packet->properties;
  SidecarRecord out;
  out.human = human_word(all);
  out.rating = rating_text(all);
  out.written_rating = as_rating(our_value(all, "WrittenRating"));
  out.verdict = our_value(all, "Verdict");
  out.frame_key = our_value(all, "FrameKey");
  out.engine_version = our_value(all, "EngineVersion");
  return out;
}

}  // namespace burstsieve
