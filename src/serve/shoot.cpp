#include "burstsieve/serve/shoot.h"

#include <fmt/format.h>

#include <algorithm>
#include <nlohmann/json.hpp>

#include "burstsieve/base/file_system.h"
#include "burstsieve/base/fingerprint.h"
#include "burstsieve/base/text.h"
#include "page_json.h"

namespace burstsieve::serve {

void Shoot::add(BurstOutcome burst) {
  const auto number = bursts() + 1;
  first_ids_.push_back(frames() + 1);
  bursts_.push_back(std::move(burst));
  BurstOutcome& b = bursts_.back();
  for (std::size_t i = 0; i < b.frames.size(); ++i) {
    FrameFacts& f = b.frames[i].facts;
    f.thumbnail = std::vector<std::uint8_t>();  // a list of nothing would keep the memory
    f.pose = {};
    f.mask = {};
    f.measures.shrink_to_fit();
    places_.push_back({bursts_.size() - 1, i});
    heads_.push_back(frame_head_json(frames(), number, b.frames[i]));
    persons_.emplace_back();
    look_at_sidecars(frames());
  }
  burst_heads_.push_back(burst_json_of(number, first_ids_.back(), b));
}

const FrameOutcome& Shoot::frame(std::uint32_t id) const {
  const Place& p = places_[id - 1];
  return bursts_[p.burst].frames[p.frame];
}

std::vector<Decisions::Key> Shoot::keys() const {
  std::vector<Decisions::Key> out;
  for (const BurstOutcome& b : bursts_)
    for (const FrameOutcome& f : b.frames) out.push_back({f.frame.main().path, f.frame.main().fingerprint});
  return out;
}

// "cleared" stands for one that was ours and is gone.
void Shoot::look_at_sidecars(std::uint32_t id) {
  std::vector<std::string> words;
  for (const SidecarLine& line : frame(id).sidecars)
    if (line.change == "human" && std::find(words.begin(), words.end(), line.human_rating) == words.end())
      words.push_back(line.human_rating);
  std::string& out = persons_[id - 1];
  out.clear();
  for (const std::string& w : words) out += (out.empty() ? "" : "\n") + w;
}

std::string Shoot::session() const {
  std::string all;
  for (const Decisions::Key& k : keys()) all += fmt::format("{} {:x}\n", k.path, k.fingerprint);
  return fmt::format(
      "{:016x}", fingerprint_of({}, Bytes(reinterpret_cast<const std::uint8_t*>(all.data()), all.size())));
}

std::string Shoot::frames_json(const Decisions& decisions) const {
  std::string out = "\"bursts\":[";
  for (std::size_t i = 0; i < burst_heads_.size(); ++i) out += (i ? ",\n" : "") + burst_heads_[i];
  out += "],\n\"frames\":[";
  for (std::uint32_t id = 1; id <= frames(); ++id) {
    const std::string& persons = persons_[id - 1];
    out += (id > 1 ? ",\n" : "") + heads_[id - 1] + ",\"mine\":" + mine_json(decisions.of(id - 1)) +
           ",\"sidecar\":" + (persons.empty() ? "null" : json_text(persons.substr(0, persons.find('\n')))) +
           "}";
  }
  return out + "]";
}

std::string Shoot::frame_json(std::uint32_t id, const Decisions& decisions) const {
  return whole_frame_json(id, frame(id), decisions.of(id - 1));
}

std::string Shoot::series_json(std::uint32_t burst) const {
  return burst_series_json(burst, first_ids_[burst - 1], bursts_[burst - 1]);
}

std::string mine_json(const std::optional<Mine>& mine) {
  if (!mine) return "null";
  return fmt::format("{{\"verdict\":\"{}\",\"rating\":{}}}", name_of(mine->verdict),
                     mine->rating ? std::to_string(*mine->rating) : "null");
}

}  // namespace burstsieve::serve
