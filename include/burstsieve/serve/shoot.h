// A culled shoot as the page sees it: frames by small numbers, never by path.
#pragma once
#include <cstddef>
#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "burstsieve/model/outcome.h"
#include "burstsieve/serve/decisions.h"

namespace burstsieve::serve {

class Shoot {
 public:
  // Bursts in the order in which cull() told them. What the page doesn't need of the facts is let go of
  // (thumbnail, pose picture, outline): the catalogue has it.
  void add(BurstOutcome burst);

  std::uint32_t frames() const { return static_cast<std::uint32_t>(places_.size()); }  // ids 1..frames()
  std::uint32_t bursts() const { return static_cast<std::uint32_t>(bursts_.size()); }  // ids 1..bursts()
  const FrameOutcome& frame(std::uint32_t id) const;
  std::vector<BurstOutcome>& outcomes() { return bursts_; }
  const std::vector<BurstOutcome>& outcomes() const { return bursts_; }
  std::vector<Decisions::Key> keys() const;

  // Ratings of persons that the frame's sidecars hold, as far as is known: a line each.
  const std::string& persons(std::uint32_t id) const { return persons_[id - 1]; }
  // After its outcome's `sidecars` have changed.
  void look_at_sidecars(std::uint32_t id);
  // A sidecar now holds this rating in the photographer's name; empty: none.
  void say_person(std::uint32_t id, const std::string& rating) {
    const bool ours_is_gone = rating.empty() && frame(id).verdict.rating;
    persons_[id - 1] = ours_is_gone ? "cleared" : rating;
  }

  // The same for the same frames in the same order: a page may go on with what it remembers.
  std::string session() const;

  // What the page asks for (docs/review.md).
  std::string frames_json(const Decisions& decisions) const;  // "bursts":[...],"frames":[...]
  std::string frame_json(std::uint32_t id, const Decisions& decisions) const;
  std::string series_json(std::uint32_t burst) const;

 private:
  struct Place {
    std::size_t burst = 0, frame = 0;
  };
  std::vector<BurstOutcome> bursts_;
  std::vector<std::uint32_t> first_ids_;  // of each burst
  std::vector<Place> places_;
  std::vector<std::string> heads_;    // the start of each frame's object, up to what can change
  std::vector<std::string> persons_;  // by id - 1
  std::vector<std::string> burst_heads_;
};

// {"verdict":"keep","rating":3} or null.
std::string mine_json(const std::optional<Mine>& mine);

}  // namespace burstsieve::serve
