#include "record_text.h"

#include <fmt/format.h>

#include <cmath>

#include "burstsieve/base/text.h"
#include "burstsieve/base/version.h"
#include "xml_text.h"

namespace burstsieve::sidecar {

namespace {

class Writer {
 public:
  explicit Writer(const RecordStyle& style) : style_(style) {}

  void line(const std::string& text) {
    if (!out_.empty()) out_ += style_.lines;
    out_ += style_.indent;
    out_.append(static_cast<std::size_t>(depth_), ' ');
    out_ += text;
  }
  void open(const std::string& tag) {
    line("<" + tag + ">");
    ++depth_;
  }
  void close(const std::string& tag) {
    --depth_;
    line("</" + tag + ">");
  }
  void text(const char* name, std::string_view value) {
    line(fmt::format("<{0}:{1}>{2}</{0}:{1}>", style_.ours, name, escaped(one_line(value))));
  }
  // Shortest text that reads back as the same double.
  void number(const char* name, double value) {
    if (std::isfinite(value)) text(name, fmt::format("{}", value));
  }
  void integer(const char* name, int value) { text(name, fmt::format("{}", value)); }
  std::string ours(const char* name) const { return style_.ours + ":" + name; }
  std::string rdf(const char* name) const { return style_.rdf + ":" + name; }
  std::string take() { return std::move(out_); }

 private:
  const RecordStyle& style_;
  std::string out_;
  int depth_ = 0;
};

void write_reason(Writer& w, const Reason& r) {
  w.text("Code", r.code);
  w.text("Text", r.text);
  w.number("Value", r.value);
  w.text("Unit", r.unit);
  w.number("Limit", r.limit);
  w.number("Confidence", r.confidence);
}

void write_measure(Writer& w, const Measure& m) {
  w.text("Name", m.id);
  w.number("Value", m.value);
  w.text("Unit", m.unit);
  w.number("Confidence", m.confidence);
  w.text("Basis", m.basis);
}

template <class Items, class WriteItem>
void write_seq(Writer& w, const char* name, const Items& items, WriteItem write_item) {
  if (items.empty()) return;
  w.open(w.ours(name));
  w.open(w.rdf("Seq"));
  for (const auto& item : items) {
    w.open(w.rdf("li") + " " + w.rdf("parseType") + "=\"Resource\"");
    write_item(w, item);
    w.close(w.rdf("li"));
  }
  w.close(w.rdf("Seq"));
  w.close(w.ours(name));
}

// What stands as xmp:Rating.
std::optional<int> stated(const SidecarEntry& entry) {
  return entry.given ? entry.given->rating : entry.verdict.rating;
}

std::string start_of(const SidecarEntry& entry, const RecordStyle& style) {
  // The value may have stood between single quotes.
  std::string quoted;
  for (const char c : style.about) quoted += c == '"' ? std::string("&quot;") : std::string(1, c);
  std::string tag = fmt::format("{0}:Description {0}:about=\"{1}\"", style.rdf, quoted);
  if (style.declare_rdf) tag += fmt::format(" xmlns:{}=\"{}\"", style.rdf, kRdfNs);
  if (stated(entry)) tag += fmt::format(" xmlns:{}=\"{}\"", style.xmp, kXmpNs);
  return tag + fmt::format(" xmlns:{}=\"{}\"", style.ours, kOurNs);
}

}  // namespace

std::string record_text(const SidecarEntry& entry, const RecordStyle& style) {
  const FrameVerdict& v = entry.verdict;
  Writer w(style);
  w.open(start_of(entry, style));
  const auto rating = stated(entry);
  if (rating) w.line(fmt::format("<{0}:Rating>{1}</{0}:Rating>", style.xmp, *rating));
  w.text("Verdict", name_of(v.verdict));
  // Beside a person's rating that is the same, it would make theirs look like ours.
  if (v.rating && !(entry.given && rating == v.rating)) w.integer("WrittenRating", *v.rating);
  w.integer("Pose", v.pose);
  w.integer("Place", v.place);
  if (!v.better.empty()) w.text("Better", v.better);
  write_seq(w, "Reasons", v.reasons, write_reason);
  write_seq(w, "Measures", entry.measures, write_measure);
  w.text("FrameKey", entry.frame_key);
  w.text("EngineVersion", entry.engine_version);
  w.close(w.rdf("Description"));
  return w.take();
}

std::string fresh_sidecar(const SidecarEntry& entry) {
  // The packet wrapper (ISO 16684-1 §7.3) lets readers that scan for packets find it; id and begin are fixed.
  std::string out = "<?xpacket begin=\"\xef\xbb\xbf\" id=\"W5M0MpCehiHzreSzNTczkc9d\"?>\n";
  out += fmt::format("<x:xmpmeta xmlns:x=\"adobe:ns:meta/\" x:xmptk=\"burstsieve {}\">\n", kVersion);
  out += fmt::format(" <rdf:RDF xmlns:rdf=\"{}\">\n", kRdfNs);
  out += record_text(entry, {});
  return out + "\n </rdf:RDF>\n</x:xmpmeta>\n<?xpacket end=\"w\"?>\n";
}

}  // namespace burstsieve::sidecar
