#include "burstsieve/serve/decisions.h"

#include <fmt/format.h>

#include <filesystem>

namespace burstsieve::serve {
namespace {

// As the catalogue keeps them.
std::string kept_path(const std::string& path) {
  std::error_code failed;
  const auto absolute = std::filesystem::absolute(path, failed);
  return (failed ? std::filesystem::path(path) : absolute).lexically_normal().string();
}

std::string name_of_choices(const std::vector<ReviewChoice>& choices) {
  const ReviewChoice& first = choices.front();
  std::string out = first.verdict ? burstsieve::name_of(*first.verdict) : "own verdict taken back";
  if (first.rating) out += fmt::format(", rating {}", *first.rating);
  return out + fmt::format(": {} frame{}", choices.size(), choices.size() == 1 ? "" : "s");
}

}  // namespace

Decisions::Decisions(const std::vector<Key>& frames) : mine_(frames.size()), touched_(frames.size(), 0) {
  for (std::size_t i = 0; i < frames.size(); ++i) {
    by_path_.emplace(kept_path(frames[i].path), i);
    fingerprints_.push_back(frames[i].fingerprint);
  }
}

void Decisions::set(std::size_t frame, const std::optional<Mine>& to) {
  mine_[frame] = to;
  touched_[frame] = revision_;
}

void Decisions::decide(const ReviewStep& step) {
  Deed deed;
  for (const ReviewChoice& c : step.choices) {
    const auto known = by_path_.find(kept_path(c.path));
    if (known == by_path_.end() || fingerprints_[known->second] != c.fingerprint) continue;
    std::optional<Mine> after;
    if (c.verdict) after = Mine{*c.verdict, c.rating, c.seen};
    deed.changes.push_back({known->second, mine_[known->second], after});
    set(known->second, after);
  }
  if (deed.changes.empty()) return;
  deed.name = what_ = name_of_choices(step.choices);
  done_.resize(at_);
  done_.push_back(std::move(deed));
  at_ = done_.size();
}

void Decisions::play(const ReviewStep& step) {
  ++revision_;
  if (step.kind == ReviewStep::Kind::decide) return decide(step);
  const bool back = step.kind == ReviewStep::Kind::undo;
  if (back ? !can_undo() : !can_redo()) return;
  const Deed& deed = done_[back ? --at_ : at_++];
  for (const Change& c : deed.changes) set(c.frame, back ? c.before : c.after);
  what_ = (back ? "undo: " : "redo: ") + deed.name;
}

std::vector<std::size_t> Decisions::changed_since(std::int64_t revision) const {
  std::vector<std::size_t> out;
  for (std::size_t i = 0; i < touched_.size(); ++i)
    if (touched_[i] > revision) out.push_back(i);
  return out;
}

}  // namespace burstsieve::serve
