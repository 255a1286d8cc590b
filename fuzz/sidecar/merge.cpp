// Promise: merging into any bytes never harms them: it is refused with a reason, or a person's word stands,
// or the result reads back as ours, merging again changes nothing, and all that others wrote is still there.
#include "burstsieve/sidecar/merge.h"

#include <algorithm>
#include <string_view>

#include "support/target.h"

using namespace burstsieve;

namespace {

SidecarEntry keep_entry() {
  SidecarEntry e;
  e.verdict.verdict = Verdict::keep;
  e.verdict.rating = 4;
  e.verdict.reasons = {{"sharpest", "sharpest of 3 \"look-alikes\" <& more", .8, "px", 2.2, .9}};
  e.verdict.pose = 1;
  e.verdict.place = 1;
  e.measures = {{"blur_sigma_px", .8, "px", .9, "jpeg"}, {"headroom_ev", 1.5, "EV", .5, "jpeg"}};
  e.frame_key = "0123456789abcdef";
  e.engine_version = "0.1.0";
  return e;
}

SidecarEntry undecided_entry() {
  SidecarEntry e = keep_entry();
  e.verdict.verdict = Verdict::undecided;
  e.verdict.rating.reset();
  return e;
}

std::string_view text_of(Bytes b) {
  return {reinterpret_cast<const char*>(b.data()), b.size()};
}

// True when nothing in `text` can be ours or a rating, in whatever spelling: then merging only inserts.
bool only_foreign(std::string_view text) {
  if (text.find('\0') != std::string_view::npos) return false;  // UTF-16 hides the words below
  return text.find("&#") == std::string_view::npos && text.find("burstsieve") == std::string_view::npos &&
         text.find("Rating") == std::string_view::npos;
}

// True when `after` is `before` with one insertion; an empty rdf:RDF loses its "/>".
bool inserted_once(std::string_view before, std::string_view after) {
  const auto head = static_cast<std::size_t>(
      std::mismatch(before.begin(), before.end(), after.begin(), after.end()).first - before.begin());
  const auto tail = static_cast<std::size_t>(
      std::mismatch(before.rbegin(), before.rend(), after.rbegin(), after.rend()).first - before.rbegin());
  return head + tail + 2 >= before.size();
}

// Merges, holds the promises, and returns what stands there afterwards.
ByteBuffer merge_checked(Bytes existing, const SidecarEntry& entry) {
  const ByteBuffer as_it_was(existing.begin(), existing.end());
  const auto merged = merge(existing, entry);
  const auto record = read_record(existing);
  if (!merged) {
    fuzz::require(record || record.error().cause == merged.error().cause, "merge and read refuse alike");
    fuzz::refused(merged.error());
    return as_it_was;
  }
  fuzz::require(static_cast<bool>(record), "what can be merged can be read");
  fuzz::came_out(name_of(merged->change));
  const bool writes = merged->change == SidecarChange::created || merged->change == SidecarChange::updated;
  fuzz::require(writes == !merged->bytes.empty(), "new contents come with a change, and only then");
  fuzz::require((merged->change == SidecarChange::human) == record->human.has_value(),
                "a person's word stops us");
  if (!writes) return as_it_was;

  const auto after = read_record(merged->bytes);
  fuzz::require(static_cast<bool>(after), "what we wrote can be read");
  fuzz::require(!after->human && after->written_rating == entry.verdict.rating &&
                    after->verdict == name_of(entry.verdict.verdict) && after->frame_key == entry.frame_key,
                "what we wrote reads back");
  const auto twice = merge(merged->bytes, entry);
  fuzz::require(twice && twice->change == SidecarChange::unchanged, "merging again changes nothing");
  if (only_foreign(text_of(existing)))
    fuzz::require(inserted_once(text_of(existing), text_of(merged->bytes)),
                  "what others wrote is still there");
  return merged->bytes;
}

}  // namespace

int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const ByteBuffer kept = merge_checked(Bytes(data, size), keep_entry());
  const std::string words = fuzz::take_outcome();
  merge_checked(kept, undecided_entry());
  fuzz::came_out(words);
  return 0;
}
