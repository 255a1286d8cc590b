// What the photographer says of the frames of a shoot, with undo and redo: the log of the catalogue, played.
// Pure.
#pragma once
#include <cstddef>
#include <cstdint>
#include <map>
#include <optional>
#include <string>
#include <vector>

#include "burstsieve/catalog/catalog.h"
#include "burstsieve/model/verdict.h"

namespace burstsieve::serve {

struct Mine {
  Verdict verdict = Verdict::undecided;
  std::optional<int> rating;  // 1..5, with keep only
  std::string seen;           // ReviewChoice::seen
  bool operator==(const Mine&) const = default;
};

class Decisions {
 public:
  // The frames by their main file, in the order of their ids.
  struct Key {
    std::string path;
    std::uint64_t fingerprint = 0;
  };
  explicit Decisions(const std::vector<Key>& frames);

  // The next step of the log. Choices about other photographs are passed over, and a decision on nothing else
  // can't be undone. An undo or redo of nothing changes nothing. Every step is one revision.
  void play(const ReviewStep& step);

  std::int64_t revision() const { return revision_; }  // steps played
  const std::optional<Mine>& of(std::size_t frame) const { return mine_[frame]; }
  bool can_undo() const { return at_ > 0; }
  bool can_redo() const { return at_ < done_.size(); }
  // The last step, for people: "keep: 3 frames", "undo: keep: 3 frames".
  const std::string& what() const { return what_; }
  // Frames whose state was set by a step after `revision`, ascending.
  std::vector<std::size_t> changed_since(std::int64_t revision) const;

 private:
  struct Change {
    std::size_t frame = 0;
    std::optional<Mine> before, after;
  };
  struct Deed {
    std::vector<Change> changes;
    std::string name;
  };
  void decide(const ReviewStep& step);
  void set(std::size_t frame, const std::optional<Mine>& to);

  std::map<std::string, std::size_t> by_path_;
  std::vector<std::uint64_t> fingerprints_;
  std::vector<std::optional<Mine>> mine_;
  std::vector<std::int64_t> touched_;  // revision of the last change
  std::vector<Deed> done_;             // to be undone up to at_, to be done again from there
  std::size_t at_ = 0;
  std::int64_t revision_ = 0;
  std::string what_;
};

}  // namespace burstsieve::serve
