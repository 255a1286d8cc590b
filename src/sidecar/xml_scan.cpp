#include "xml_scan.h"

#include <fmt/format.h>
#include <xxhash.h>

#include <algorithm>
#include <charconv>
#include <optional>

#include "burstsieve/base/text.h"

namespace burstsieve::sidecar {

namespace {

bool is_name_char(char c) {
  const auto u = static_cast<unsigned char>(c);
  return u >= 0x80 || (u >= 'a' && u <= 'z') || (u >= 'A' && u <= 'Z') || (u >= '0' && u <= '9') ||
         u == ':' || u == '_' || u == '-' || u == '.';
}

std::string utf8(std::uint32_t c) {
  const auto byte = [](std::uint32_t b) { return static_cast<char>(static_cast<unsigned char>(b)); };
  if (c < 0x80) return {byte(c)};
  if (c < 0x800) return {byte(0xc0 | c >> 6), byte(0x80 | (c & 63))};
  if (c < 0x10000) return {byte(0xe0 | c >> 12), byte(0x80 | (c >> 6 & 63)), byte(0x80 | (c & 63))};
  return {byte(0xf0 | c >> 18), byte(0x80 | (c >> 12 & 63)), byte(0x80 | (c >> 6 & 63)),
          byte(0x80 | (c & 63))};
}

// XML 1.0 §2.2: not even a reference may stand for another character.
bool is_xml_character(std::uint32_t c) {
  if (c < 0x20) return c == '\t' || c == '\n' || c == '\r';
  const bool surrogate = c >= 0xd800 && c < 0xe000;
  return c <= 0x10ffff && !surrogate && c != 0xfffe && c != 0xffff;
}

// What stands between '&' and ';'.
std::optional<std::string> entity(std::string_view name) {
  if (name == "amp") return "&";
  if (name == "lt") return "<";
  if (name == "gt") return ">";
  if (name == "quot") return "\"";
  if (name == "apos") return "'";
  if (name.size() < 2 || name[0] != '#') return std::nullopt;
  name.remove_prefix(1);
  int base = 10;
  if (name[0] == 'x') {
    base = 16;
    name.remove_prefix(1);
  }
  std::uint32_t code = 0;
  const auto end = name.data() + name.size();
  const auto [at, ec] = std::from_chars(name.data(), end, code, base);
  if (ec != std::errc() || at != end || !is_xml_character(code)) return std::nullopt;
  return utf8(code);
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
  explicit Scanner(std::string_view text) { doc_.text = text; }

  Result<XmlDocument> run() {
    if (auto s = encoding(); !s) return s.error();
    while (at_ < doc_.text.size())
      if (auto s = step(); !s) return s.error();
    if (!open_.empty()) return cut();
    if (!root_seen_) return blank_ ? cut() : bad("holds no XML element");
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

  Status encoding() {
    const std::string_view t = doc_.text;
    if (t.substr(0, 2) == "\xfe\xff" || t.substr(0, 2) == "\xff\xfe" ||
        t.substr(0, 4) == std::string_view("\0<\0?", 4) || t.substr(0, 4) == std::string_view("<\0?\0", 4))
      return Error{Cause::unsupported, {}, "is not in UTF-8"};
    for (const char c : t)
      if (static_cast<unsigned char>(c) < 0x20 && !is_xml_space(c)) return bad("a control character");
    if (next_is("\xef\xbb\xbf")) at_ += 3;
    return Done{};
  }

  Status step() {
    if (doc_.text[at_] != '<') return characters();
    blank_ = false;
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
    const std::string_view all = doc_.text.substr(begin, at_ - begin);
    if (all.substr(0, 5) != "<?xml" || (all.size() > 5 && is_name_char(all[5]))) return Done{};
    const std::string lower = lower_ascii(all);
    const auto said = lower.find("encoding");
    if (said == std::string::npos) return Done{};
    if (lower.find("utf-8", said) == std::string::npos && lower.find("us-ascii", said) == std::string::npos)
      return Error{Cause::unsupported, {}, "declares another encoding than UTF-8"};
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
    if (out.empty() || colon == 0 || colon == out.size() - 1 || colon != out.rfind(':'))
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

  // Namespaces 1.0 §3 and §5: "xml" and its namespace belong to each other, "xmlns" can't be declared, and a
  // prefix can't be declared away.
  Status bind(const XmlAttribute& a) {
    const bool by_default = a.name == "xmlns";
    if (!by_default && a.name.substr(0, 6) != "xmlns:") return Done{};
    const std::string_view prefix = by_default ? std::string_view() : a.name.substr(6);
    std::string uri = unescaped(doc_.of(a.value));
    if (uri.size() > kMaxNamespace)
      return Error{Cause::limit, {}, "holds a namespace whose name is too long"};
    if (prefix == "xmlns" || (prefix == "xml") != (uri == kXmlNs))
      return bad("a reserved prefix or namespace");
    if (!by_default && uri.empty()) return bad("a prefix without a namespace");
    bindings_.push_back({prefix, std::move(uri)});
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
      if (a.name == "xmlns" || a.name.substr(0, 6) == "xmlns:") {
        const std::string uri = unescaped(doc_.of(a.value));
        doc_.prefixes.push_back({a.whole, uri == kXmlNs ? std::string() : uri, true});
        continue;
      }
      const auto ans = resolve(a.name, true);
      if (!ans) return ans.error();
      a.ns = *ans;
      note_prefix(a.name, a.ns);
    }
    return Done{};
  }

  void note_prefix(std::string_view name, const std::string& ns) {
    if (ns.empty() || ns == kXmlNs) return;
    const auto begin = static_cast<std::size_t>(name.data() - doc_.text.data());
    doc_.prefixes.push_back({{begin, begin + (name.size() - local_of(name).size())}, ns, false});
  }

  Status start_tag() {
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
  bool blank_ = true;
};

}  // namespace

bool is_xml_space(char c) {
  return c == ' ' || c == '\t' || c == '\n' || c == '\r';
}

Result<XmlDocument> scan_xml(std::string_view text) {
  return Scanner(text).run();
}

std::string with_neutral_prefixes(const XmlDocument& doc, const std::map<std::string, std::string>& known) {
  std::string out;
  std::size_t at = 0;
  std::vector<std::string> declared;  // by the present start tag
  std::size_t previous_end = 0;
  for (const PrefixUse& use : doc.prefixes) {
    out += doc.text.substr(at, use.span.begin - at);
    at = use.span.end;
    const auto it = known.find(use.ns);
    const std::string prefix =
        it != known.end() ? it->second : fmt::format("n{:016x}", XXH64(use.ns.data(), use.ns.size(), 0));
    if (!use.declaration) {
      out += prefix + ":";
      continue;
    }
    // Two prefixes for one namespace in one tag become one declaration.
    if (doc.text.substr(previous_end, use.span.begin - previous_end).find('<') != std::string_view::npos)
      declared.clear();
    previous_end = use.span.end;
    if (use.ns.empty() || std::find(declared.begin(), declared.end(), use.ns) != declared.end()) continue;
    declared.push_back(use.ns);
    out += fmt::format(" xmlns:{}=\"{}\"", prefix, escaped(use.ns));
  }
  return out + std::string(doc.text.substr(at));
}

std::string unescaped(std::string_view raw) {
  std::string out;
  for (std::size_t i = 0; i < raw.size(); ++i) {
    if (raw[i] == '&') {
      const auto semicolon = raw.find(';', i);
      if (semicolon != std::string_view::npos)
        if (const auto e = entity(raw.substr(i + 1, semicolon - i - 1))) {
          out += *e;
          i = semicolon;
          continue;
        }
    }
    out += raw[i];
  }
  return out;
}

std::string escaped(std::string_view plain) {
  std::string out;
  for (const char c : plain) switch (c) {
      case '&':
        out += "&amp;";
        break;
      case '<':
        out += "&lt;";
        break;
      case '>':
        out += "&gt;";
        break;
      case '"':
        out += "&quot;";
        break;
      default:
        out += c;
    }
  return out;
}

}  // namespace burstsieve::sidecar
