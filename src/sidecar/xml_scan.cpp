#include "xml_scan.h"

#include <algorithm>
#include <utility>

#include "burstsieve/base/text.h"
#include "xml_text.h"

namespace burstsieve::sidecar {

namespace {

bool is_name_char(char c) {
  const auto u = static_cast<unsigned char>(c);
  return u >= 0x80 || (u >= 'a' && u <= 'z') || (u >= 'A' && u <= 'Z') || (u >= '0' && u <= '9') ||
         u == ':' || u == '_' || u == '-' || u == '.';
}

struct Binding {
  std::string_view prefix;
  std::string uri;
};

struct Open {
  std::string_view name;
  std::string ns;
  int kept = -1;  // index of the element, or -1 below kKeptDepth
  std::size_t bindings = 0;
  int named = 0;  // attributes and children that are no array items
};

class Scanner {
 public:
  explicit Scanner(const XmlText& text) : at_(text.body) {
    doc_.text = text.utf8;
    doc_.body = text.body;
  }

  Result<XmlDocument> run() {
    while (at_ < doc_.text.size())
      if (auto s = step(); !s) return s.error();
    if (!open_.empty()) return cut();
    if (!root_seen_) return Error{Cause::truncated, {}, "ends before its first XML element"};
    if (wrapper_open_) return Error{Cause::truncated, {}, "ends before its packet wrapper is closed"};
    return std::move(doc_);
  }

 private:
  static Error bad(std::string text) {
    return Error{Cause::corrupt, {}, "is not well-formed XML: " + std::move(text)};
  }
  static Error cut() { return Error{Cause::truncated, {}, "ends in the middle"}; }

  std::string_view rest() const { return doc_.text.substr(at_); }
  bool next_is(std::string_view what) const { return rest().substr(0, what.size()) == what; }
  void skip_space() {
    while (at_ < doc_.text.size() && is_xml_space(doc_.text[at_])) ++at_;
  }

  Status step() {
    if (doc_.text[at_] != '<') return characters();
    if (next_is("<!--")) return skip_behind("-->", 4);
    if (next_is("<?")) return instruction();
    if (next_is("<![CDATA[")) {
      if (open_.empty()) return bad("text outside the root element");
      return skip_behind("]]>", 9);
    }
    if (next_is("<!")) {
      // A prefix of the three above at the very end is a cut, not a document type.
      if (rest().size() < 9 && std::string_view("<!--<![CDATA[").find(rest()) != std::string_view::npos)
        return cut();
      return Error{Cause::limit, {}, "has a document type or entities of its own, refused"};
    }
    if (next_is("</")) return end_tag();
    return start_tag();
  }

  Status skip_behind(std::string_view mark, std::size_t lead) {
    const auto found = doc_.text.find(mark, at_ + lead);
    if (found == std::string_view::npos) return cut();
    at_ = found + mark.size();
    return Done{};
  }

  Status instruction() {
    const std::size_t begin = at_;
    if (auto s = skip_behind("?>", 2); !s) return s.error();
    const std::string_view all = doc_.text.substr(begin + 2, at_ - begin - 2);
    // The one at the very start is not part of the body.
    if (lower_ascii(all.substr(0, 3)) == "xml" && (all.size() == 3 || !is_name_char(all[3])))
      return bad("an XML declaration that is not at its start");
    // ISO 16684-1 §7.3.2; the only sign of a cut behind the root element.
    if (open_.empty() && all.starts_with("xpacket") && all.size() > 7 && is_xml_space(all[7])) {
      if (all.find("begin=") != std::string_view::npos) wrapper_open_ = true;
      if (all.find("end=") != std::string_view::npos) wrapper_open_ = false;
    }
    return Done{};
  }

  Status characters() {
    auto end = doc_.text.find('<', at_);
    if (end == std::string_view::npos) end = doc_.text.size();
    const std::string_view run = doc_.text.substr(at_, end - at_);
    if (open_.empty()) {
      for (const char c : run)
        if (!is_xml_space(c)) return bad("text outside the root element");
    } else if (auto s = references(run, end == doc_.text.size()); !s) {
      return s.error();
    }
    at_ = end;
    return Done{};
  }

  static Status references(std::string_view run, bool at_end) {
    for (auto amp = run.find('&'); amp != std::string_view::npos; amp = run.find('&', amp + 1)) {
      const auto semicolon = run.find(';', amp);
      if (semicolon == std::string_view::npos) return at_end ? cut() : bad("a loose '&'");
      if (!entity(run.substr(amp + 1, semicolon - amp - 1))) return bad("an unknown entity");
    }
    return Done{};
  }

  Result<std::string_view> name() {
    const std::size_t begin = at_;
    while (at_ < doc_.text.size() && is_name_char(doc_.text[at_])) ++at_;
    if (at_ == doc_.text.size()) return cut();
    const std::string_view out = doc_.text.substr(begin, at_ - begin);
    const auto colon = out.find(':');
    const bool prefixed = colon != std::string_view::npos;
    // The XML library behind us sees other prefixes, so these are checked here.
    if (!is_ncname(out.substr(prefixed ? colon + 1 : 0)) || (prefixed && !is_ncname(out.substr(0, colon))))
      return bad("a name expected");
    if (std::max(out.size() - local_of(out).size(), local_of(out).size()) > kMaxName)
      return Error{Cause::limit, {}, "holds a name that is too long"};
    return out;
  }

  Status count_item() {
    if (++items_ > kMaxItems) return Error{Cause::limit, {}, "holds too many elements"};
    return Done{};
  }

  Status count_named(const XmlElement& e) {
    constexpr int kDescriptionDepth = 2;
    const auto attributes = static_cast<int>(e.attributes.size());
    if (e.depth == kDescriptionDepth) properties_ += attributes;
    if (e.depth == kDescriptionDepth + 1) ++properties_;
    int siblings = 0;
    if (!open_.empty() && e.local != "li") siblings = ++open_.back().named;
    if (std::max({attributes, siblings, properties_}) > kMaxNamed)
      return Error{Cause::limit, {}, "holds too many properties"};
    return Done{};
  }

  Result<XmlAttribute> attribute(std::size_t space) {
    if (auto s = count_item(); !s) return s.error();
    XmlAttribute a;
    const auto n = name();
    if (!n) return n.error();
    a.name = *n;
    skip_space();
    if (at_ == doc_.text.size()) return cut();
    if (doc_.text[at_] != '=') return bad("'=' expected");
    ++at_;
    skip_space();
    if (at_ == doc_.text.size()) return cut();
    const char quote = doc_.text[at_];
    if (quote != '"' && quote != '\'') return bad("a quote expected");
    const auto end = doc_.text.find(quote, ++at_);
    if (end == std::string_view::npos) return cut();
    a.value = {at_, end};
    const std::string_view raw = doc_.of(a.value);
    if (raw.find('<') != std::string_view::npos) return bad("'<' in an attribute");
    if (auto s = references(raw, false); !s) return s.error();
    at_ = end + 1;
    a.whole = {space, at_};
    return a;
  }

  // The namespace of `name`; an unprefixed attribute has none.
  Result<std::string> resolve(std::string_view name, bool is_attribute) const {
    const auto colon = name.find(':');
    if (colon == std::string_view::npos && is_attribute) return std::string();
    const std::string_view prefix = colon == std::string_view::npos ? "" : name.substr(0, colon);
    if (prefix == "xml") return std::string(kXmlNs);
    for (auto it = bindings_.rbegin(); it != bindings_.rend(); ++it)
      if (it->prefix == prefix) return it->uri;
    if (prefix.empty()) return std::string();
    return bad("a prefix without a namespace");
  }

  static std::string_view local_of(std::string_view name) {
    const auto colon = name.find(':');
    return colon == std::string_view::npos ? name : name.substr(colon + 1);
  }

  // Namespaces in XML 1.0 §3: "xml" is fixed, "xmlns" is no prefix, and only the default can be taken back.
  Status bind(const XmlAttribute& a) {
    if (!is_declaration(a)) return Done{};
    std::string uri = unescaped(doc_.of(a.value));
    if (uri.size() > kMaxNamespace)
      return Error{Cause::limit, {}, "holds a namespace whose name is too long"};
    const std::string_view prefix = a.name == "xmlns" ? "" : a.name.substr(6);
    if (prefix == "xmlns" || (prefix == "xml") != (uri == kXmlNs) || (uri.empty() && !prefix.empty()))
      return bad("a namespace declaration that is not allowed");
    bindings_.push_back({prefix, std::move(uri)});
    return Done{};
  }

  // Two prefixes may stand for one namespace.
  Status no_attribute_twice(const XmlElement& e) const {
    std::vector<std::pair<std::string_view, std::string_view>> names;
    for (const XmlAttribute& a : e.attributes)
      is_declaration(a) ? names.emplace_back("xmlns", a.name) : names.emplace_back(a.ns, a.local);
    std::sort(names.begin(), names.end());
    if (std::adjacent_find(names.begin(), names.end()) != names.end()) return bad("an attribute twice");
    return Done{};
  }

  Status resolve_all(XmlElement& e) {
    const auto ns = resolve(e.name, false);
    if (!ns) return ns.error();
    e.ns = *ns;
    e.local = local_of(e.name);
    note_prefix(e.name, e.ns);
    for (XmlAttribute& a : e.attributes) {
      a.local = local_of(a.name);
      if (is_declaration(a)) {
        std::string uri = unescaped(doc_.of(a.value));
        doc_.prefixes.push_back({a.whole, uri == kXmlNs ? std::string() : std::move(uri), true});
        continue;
      }
      const auto ans = resolve(a.name, true);
      if (!ans) return ans.error();
      a.ns = *ans;
      note_prefix(a.name, a.ns);
    }
    return no_attribute_twice(e);
  }

  void note_prefix(std::string_view name, const std::string& ns) {
    if (ns.empty() || ns == kXmlNs) return;
    const auto begin = static_cast<std::size_t>(name.data() - doc_.text.data());
    doc_.prefixes.push_back({{begin, begin + (name.size() - local_of(name).size())}, ns, false});
  }

  Status start_tag() {
    if (at_ + 1 == doc_.text.size()) return cut();
    if (auto s = count_item(); !s) return s.error();
    if (open_.empty() && root_seen_) return bad("a second root element");
    root_seen_ = true;
    if (open_.size() >= static_cast<std::size_t>(kMaxDepth))
      return Error{Cause::limit, {}, "is nested too deeply"};

    XmlElement e;
    e.depth = static_cast<int>(open_.size());
    e.whole.begin = at_++;
    const auto n = name();
    if (!n) return n.error();
    e.name = *n;
    const std::size_t bindings = bindings_.size();
    for (;;) {
      const std::size_t space = at_;
      skip_space();
      if (at_ == doc_.text.size()) return cut();
      if (doc_.text[at_] == '>' || doc_.text[at_] == '/') break;
      if (space == at_) return bad("white space expected between attributes");
      auto a = attribute(space);
      if (!a) return a.error();
      if (auto s = bind(*a); !s) return s.error();
      e.attributes.push_back(std::move(*a));
    }
    e.self_closed = doc_.text[at_] == '/';
    if (e.self_closed && ++at_ == doc_.text.size()) return cut();
    if (doc_.text[at_] != '>') return bad("'>' expected");
    ++at_;
    if (auto s = resolve_all(e); !s) return s.error();
    if (auto s = count_named(e); !s) return s.error();
    opened(std::move(e), bindings);
    return Done{};
  }

  void opened(XmlElement e, std::size_t bindings) {
    e.content = {at_, at_};
    e.whole.end = at_;
    if (!open_.empty()) {
      e.parent = open_.back().kept;
      if (e.parent >= 0) doc_.elements[static_cast<std::size_t>(e.parent)].has_children = true;
    }
    const bool closed = e.self_closed;
    const std::string_view tag = e.name;
    const std::string ns = e.ns;
    int kept = -1;
    if (e.depth <= kKeptDepth) {
      kept = static_cast<int>(doc_.elements.size());
      doc_.elements.push_back(std::move(e));
    }
    if (closed)
      bindings_.resize(bindings);
    else
      open_.push_back({tag, ns, kept, bindings, 0});
  }

  Status end_tag() {
    const std::size_t begin = at_;
    at_ += 2;
    const auto n = name();
    if (!n) return n.error();
    skip_space();
    if (at_ == doc_.text.size()) return cut();
    if (doc_.text[at_] != '>') return bad("'>' expected");
    ++at_;
    if (open_.empty() || open_.back().name != *n) return bad("an end tag that closes nothing");
    note_prefix(*n, open_.back().ns);
    if (open_.back().kept >= 0) {
      XmlElement& e = doc_.elements[static_cast<std::size_t>(open_.back().kept)];
      e.content.end = begin;
      e.whole.end = at_;
    }
    bindings_.resize(open_.back().bindings);
    open_.pop_back();
    return Done{};
  }

  XmlDocument doc_;
  std::size_t at_ = 0;
  std::vector<Open> open_;
  std::vector<Binding> bindings_;
  int items_ = 0;
  int properties_ = 0;
  bool root_seen_ = false;
  bool wrapper_open_ = false;  // <?xpacket begin?> without <?xpacket end?> so far
};

}  // namespace

std::string_view prefix_of(const XmlDocument& doc, const PrefixUse& declaration) {
  std::string_view text = doc.of(declaration.span);
  while (is_xml_space(text.front())) text.remove_prefix(1);
  text = text.substr(0, text.find_first_of("= \t\r\n"));
  return text.substr(std::min(text.size(), std::string_view("xmlns:").size()));
}

bool is_declaration(const XmlAttribute& a) {
  return a.name == "xmlns" || a.name.starts_with("xmlns:");
}

Result<XmlDocument> scan_xml(const XmlText& text) {
  return Scanner(text).run();
}

}  // namespace burstsieve::sidecar
