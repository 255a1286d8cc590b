#include "record_text.h"

#include <fmt/format.h>

#include <cmath>

#include "burstsieve/base/text.h"
#include "burstsieve/base/version.h"
#include "xml_text.h"
#include "xmp_reader.h"

namespace burstsieve::sidecar {

namespace {

class Writer {
 public:
  Writer(std::string_view indent, std::string_view lines) : indent_(indent), lines_(lines) {}

  void line(const std::string& text) {
    if (!out_.empty()) out_ += lines_;
    out_ += indent_;
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
    line(fmt::format("<{0}:{1}>{2}</{0}:{1}>", kOurPrefix, name, escaped(one_line(value))));
  }
  // Shortest text that reads back as the same double.
  void number(const char* name, double value) {
    if (std::isfinite(value)) text(name, fmt::format("{}", value));
  }
  void integer(const char* name, int value) { text(name, fmt::format("{}", value)); }
  std::string take() { return std::move(out_); }

 private:
  std::string out_;
  std::string_view indent_;
  std::string_view lines_;
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
  const std::string tag = fmt::format("{}:{}", kOurPrefix, name);
  w.open(tag);
  w.open("rdf:Seq");
  for (const auto& item : items) {
    w.open("rdf:li rdf:parseType=\"Resource\"");
    write_item(w, item);
    w.close("rdf:li");
  }
  w.close("rdf:Seq");
  w.close(tag);
}

std::string start_of(const SidecarEntry& entry, std::string_view about, bool declare_rdf) {
  // The value may have stood between single quotes.
  std::string quoted;
  for (const char c : about) quoted += c == '"' ? std::string("&quot;") : std::string(1, c);
  std::string tag = fmt::format("rdf:Description rdf:about=\"{}\"", quoted);
  if (declare_rdf) tag += fmt::format(" xmlns:rdf=\"{}\"", kRdfNs);
  if (entry.verdict.rating) tag += fmt::format(" xmlns:xmp=\"{}\"", kXmpNs);
  return tag + fmt::format(" xmlns:{}=\"{}\"", kOurPrefix, kOurNs);
}

}  // namespace

std::string record_text(const SidecarEntry& entry, std::string_view about, std::string_view indent,
                        std::string_view lines, bool declare_rdf) {
  const FrameVerdict& v = entry.verdict;
  Writer w(indent, lines);
  w.open(start_of(entry, about, declare_rdf));
  if (v.rating) w.line(fmt::format("<xmp:Rating>{}</xmp:Rating>", *v.rating));
  w.text("Verdict", name_of(v.verdict));
  if (v.rating) w.integer("WrittenRating", *v.rating);
  w.integer("Pose", v.pose);
  w.integer("Place", v.place);
  if (!v.better.empty()) w.text("Better", v.better);
  write_seq(w, "Reasons", v.reasons, write_reason);
  write_seq(w, "Measures", entry.measures, write_measure);
  w.text("FrameKey", entry.frame_key);
  w.text("EngineVersion", entry.engine_version);
  w.close("rdf:Description");
  return w.take();
}

std::string fresh_sidecar(const SidecarEntry& entry) {
  // The packet wrapper (ISO 16684-1 §7.3) lets readers that scan for packets find it; id and begin are fixed.
  std::string out = "<?xpacket begin=\"\xef\xbb\xbf\" id=\"W5M0MpCehiHzreSzNTczkc9d\"?>\n";
  out += fmt::format("<x:xmpmeta xmlns:x=\"adobe:ns:meta/\" x:xmptk=\"burstsieve {}\">\n", kVersion);
  out += fmt::format(" <rdf:RDF xmlns:rdf=\"{}\">\n", kRdfNs);
  out += record_text(entry, "", "  ", "\n", false);
  return out + "\n </rdf:RDF>\n</x:xmpmeta>\n<?xpacket end=\"w\"?>\n";
}

}  // namespace burstsieve::sidecar
