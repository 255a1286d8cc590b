#include "burstsieve/sidecar/merge.h"

#include <algorithm>
#include <charconv>
#include <cmath>
#include <string_view>
#include <tuple>

#include "burstsieve/base/text.h"
#include "editor.h"
#include "encoding.h"
#include "packet.h"
#include "record_text.h"

namespace burstsieve {

namespace {

using namespace sidecar;

Result<XmlText> read_text(Bytes bytes) {
  if (bytes.size() > kMaxSidecarBytes) return Error{Cause::limit, {}, "is longer than any sidecar (4 MiB)"};
  return decoded(bytes);
}

bool is_ours(const XmpProperty& p) {
  return p.ns == kOurNs;
}
bool is_rating(const XmpProperty& p) {
  return !is_ours(p) && may_change(p.ns, p.top());
}
bool is_foreign(const XmpProperty& p) {
  return !may_change(p.ns, p.top());
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

// What the properties say, once when several say the same, else one after the other: then it is no number and
// no word of ours.
template <class Wanted>
std::string said_by(const std::vector<XmpProperty>& all, Wanted wanted) {
  std::vector<std::string> said;
  std::string out;
  for (const XmpProperty& p : all) {
    if (!wanted(p) || std::find(said.begin(), said.end(), p.value) != said.end()) continue;
    said.push_back(p.value);
    out += (out.empty() ? "" : " ") + p.value;
  }
  return out;
}

std::string our_value(const std::vector<XmpProperty>& all, std::string_view path) {
  return said_by(all, [&](const XmpProperty& p) { return is_ours(p) && p.path == path; });
}

// An xmp:Rating as text, whatever its form; empty when absent.
std::string rating_text(const std::vector<XmpProperty>& all) {
  return one_line(trimmed(said_by(all, is_rating)));
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

Error failed(const char* what) {
  return Error{Cause::corrupt, {}, std::string("could not be merged safely: ") + what};
}

// `text` must read as the old foreign properties and exactly the wanted record.
Status verified(Bytes bytes, const std::vector<XmpProperty>& before, const std::vector<XmpProperty>& wanted) {
  const auto text = read_text(bytes);
  if (!text) return failed(text.error().text.c_str());
  const auto after = read_packet(*text);
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
  const auto given = entry.given ? entry.given->rating : std::nullopt;
  if (given && (*given < -1 || *given == 0 || *given > 5))
    return Error{Cause::unsupported, {}, "a rating must be -1 or 1 to 5"};
  return Done{};
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

bool says_the_same(const HumanRating& word, const SidecarEntry& entry) {
  if (!entry.given) return false;
  if (!entry.given->rating) return word.cleared() || word.rating == 0.;
  return word.rating && *word.rating == *entry.given->rating;
}

bool stands_against(const HumanRating& word, const SidecarEntry& entry) {
  const auto& known = entry.replaceable;
  return !says_the_same(word, entry) && std::find(known.begin(), known.end(), word.text) == known.end();
}

Result<Merged> merge(Bytes existing, const SidecarEntry& entry) {
  if (auto s = checked(entry); !s) return s.error();
  const XmlText fresh{fresh_sidecar(entry), 0, Encoding::utf8};
  if (fresh.utf8.size() > kMaxSidecarBytes)
    return Error{Cause::limit, {}, "would be longer than any sidecar"};
  const auto wanted = read_packet(fresh);
  if (!wanted) return failed(wanted.error().text.c_str());
  if (existing.empty())
    return Merged{SidecarChange::created, encoded(fresh.utf8, fresh.encoding), std::nullopt};

  const auto text = read_text(existing);
  if (!text) return text.error();
  const auto packet = read_packet(*text);
  if (!packet) return packet.error();
  if (auto human = human_word(packet->properties)) {
    if (says_the_same(*human, entry)) return Merged{};
    if (stands_against(*human, entry)) return Merged{SidecarChange::human, {}, std::move(human)};
  }
  if (says_it_already(packet->properties, wanted->properties)) return Merged{};

  ByteBuffer bytes = encoded(with_record(*packet, entry), text->encoding);
  if (auto s = verified(bytes, packet->properties, wanted->properties); !s) return s.error();
  return Merged{SidecarChange::updated, std::move(bytes), std::nullopt};
}

Result<SidecarRecord> read_record(Bytes existing) {
  if (existing.empty()) return SidecarRecord{};
  const auto text = read_text(existing);
  if (!text) return text.error();
  const auto packet = read_packet(*text);
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
