// Outcomes as the page reads them. No path is in it.
#pragma once
#include <cstdint>
#include <optional>
#include <string>

#include "burstsieve/model/outcome.h"
#include "burstsieve/serve/decisions.h"

namespace burstsieve::serve {

// A JSON string, whatever bytes are in it.
std::string json_text(const std::string& text);

// A frame's object without its end.
std::string frame_head_json(std::uint32_t id, std::uint32_t burst, const FrameOutcome& frame);
std::string burst_json_of(std::uint32_t id, std::uint32_t first_frame, const BurstOutcome& burst);
std::string whole_frame_json(std::uint32_t id, const FrameOutcome& frame, const std::optional<Mine>& mine);
std::string burst_series_json(std::uint32_t id, std::uint32_t first_frame, const BurstOutcome& burst);

}  // namespace burstsieve::serve
