// What goes into a sidecar, and how it is merged with what others wrote there.
//
// The text is edited, not re-encoded: every byte outside xmp:Rating and our own namespace stays. The result
// is then read by an XMP library and must hold exactly the old foreign properties and exactly ours.
// xmp:Rating: real, -1 (rejected) or 0..5, absent = 0 (ISO 16684-1 §8.4); fractions are allowed.
#pragma once
#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "burstsieve/base/bytes.h"
#include "burstsieve/base/result.h"
#include "burstsieve/model/measure.h"
#include "burstsieve/model/verdict.h"

namespace burstsieve {

// Sidecars of raw converters reach some 100 KiB, with painted masks 2 MB (from memory); doubled.
inline constexpr std::uint64_t kMaxSidecarBytes = 4ull << 20;

// What the photographer said to us (the review), to be written in their name.
struct GivenWord {
  std::optional<int> rating;  // -1 or 1..5; nothing: the frame is to stand without a rating
};

struct SidecarEntry {
  FrameVerdict verdict;           // verdict.rating: -1 or 1..5; nothing for undecided
  std::vector<Measure> measures;  // recorded in this order; non-finite values are left out
  std::string frame_key;          // what tells this photograph from another of the same name
  std::string engine_version;     // "0.1.0"
  // Becomes xmp:Rating instead of ours; ours is recorded beside it only where it differs, so that the next
  // run takes the rating for what it is, a person's. Where both differ in nothing but having none at all, it
  // reads as "cleared".
  std::optional<GivenWord> given = {};
  // HumanRating::text of words that the photographer knew of when they said so, and that may be replaced
  // (empty: a cleared rating). Any other one stands.
  std::vector<std::string> replaceable = {};
};

// A rating that a person set, or cleared after we had set one.
struct HumanRating {
  std::optional<double> rating;  // nothing when cleared, or when `text` is no number
  std::string text;              // as it stands in the file, one line; empty when cleared
  std::optional<int> ours;       // the rating we had written before, if any
  bool cleared() const { return text.empty(); }
  bool operator==(const HumanRating&) const = default;
};

enum class SidecarChange {
  created,    // nothing was there (or an empty file)
  updated,    // new contents
  unchanged,  // says all this already
  human,      // a person's word stands there: nothing is written
};

const char* name_of(SidecarChange change);

// Whether a person's word keeps the entry from being written.
bool stands_against(const HumanRating& word, const SidecarEntry& entry);
// Whether it says what the entry gives in the person's name: then there is nothing to write.
bool says_the_same(const HumanRating& word, const SidecarEntry& entry);

struct Merged {
  SidecarChange change = SidecarChange::unchanged;
  ByteBuffer bytes;                  // the new contents, for created and updated; else empty
  std::optional<HumanRating> human;  // for SidecarChange::human
};

// Pure. `existing`: the sidecar's bytes, empty when there is none.
// Cause::truncated, corrupt or unsupported when `existing` is not one whole XMP packet in UTF-8 or UTF-16;
// Cause::limit when it is longer than kMaxSidecarBytes, has a document type or entities of its own, or is
// nested or populated beyond reason; Cause::corrupt when the result fails its verification. Also refuses an
// entry whose rating isn't -1 or 1..5. Errors name no file.
Result<Merged> merge(Bytes existing, const SidecarEntry& entry);

// What our last visit and people left in a sidecar.
struct SidecarRecord {
  std::optional<HumanRating> human;  // a person's word, if there is one
  std::string rating;                // xmp:Rating as it stands; empty when absent
  std::optional<int> written_rating;
  std::string verdict;  // "keep", ...; empty when we have written nothing yet
  std::string frame_key;
  std::string engine_version;
};

// Errors as merge(). Empty bytes give an empty record.
Result<SidecarRecord> read_record(Bytes existing);

}  // namespace burstsieve
