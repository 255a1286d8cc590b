#include "page_json.h"

#include <fmt/chrono.h>
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <nlohmann/json.hpp>

#include "burstsieve/base/file_system.h"
#include "burstsieve/base/text.h"
#include "burstsieve/rank/policy.h"
#include "burstsieve/report/json.h"
#include "burstsieve/serve/shoot.h"

namespace burstsieve::serve {
namespace {

using Json = nlohmann::ordered_json;

std::string dumped(const Json& j) {
  return j.dump(-1, ' ', false, Json::error_handler_t::replace);
}

// Four significant digits: what a mark on a screen can show.
Json number(std::optional<double> v) {
  if (!v || !std::isfinite(*v)) return nullptr;
  return Json::parse(fmt::format("{:.4g}", *v));
}

std::optional<double> value_of(const FrameFacts& f, const char* id) {
  const Measure* m = find(f.measures, id);
  return m ? std::optional(m->value) : std::nullopt;
}
std::optional<double> confidence_of(const FrameFacts& f, const char* id) {
  const Measure* m = find(f.measures, id);
  return m ? std::optional(m->confidence) : std::nullopt;
}

// Share of the white plumage that lost two channels or all: what the verdict goes by (docs/verdicts.md).
std::optional<double> lost_whites_of(const FrameFacts& f) {
  if (const auto gone = value_of(f, "white_gone")) return *gone + value_of(f, "white_partly").value_or(0);
  const auto r = value_of(f, "white_clipped_r"), g = value_of(f, "white_clipped_g"),
             b = value_of(f, "white_clipped_b");
  if (!r || !g || !b) return std::nullopt;
  return std::max(*g, std::min(*r, *b));
}

Json box(const Region& r) {
  return Json::array({number(r.x), number(r.y), number(r.w), number(r.h)});
}
Json box(const std::optional<Region>& r) {
  return r ? box(*r) : Json(nullptr);
}

std::string leaf(const std::string& path) {
  return one_line(leaf_of(path));
}

// The clock may be the camera's own: then it is no UTC, and says so nowhere. The page shows clock times only.
Json iso_time(const Capture& c) {
  if (!c.time_ms) return nullptr;
  const std::int64_t ms = *c.time_ms;
  const std::int64_t s = ms >= 0 ? ms / 1000 : (ms - 999) / 1000;
  const auto rest = static_cast<int>(ms - s * 1000);
  if (s < -62'135'596'800 || s > 253'402'300'799) return nullptr;  // years 1 to 9999
  return fmt::format("{:%Y-%m-%dT%H:%M:%S}.{:03}Z", fmt::gmtime(static_cast<std::time_t>(s)), rest);
}

// Pixels of the upright frame that a crop is cut from; of the camera's where it was not decoded.
std::pair<int, int> size_of(const FrameOutcome& o) {
  if (o.facts.pixel_width > 0) return {o.facts.pixel_width, o.facts.pixel_height};
  return {o.frame.capture.width, o.frame.capture.height};
}

Json codes_of(const FrameVerdict& v) {
  Json out = Json::array();
  for (const Reason& r : v.reasons)
    if (std::find(out.begin(), out.end(), r.code) == out.end()) out.push_back(r.code);
  return out;
}

void only_names(Json& object) {
  for (const char* file : {"raw", "jpeg"})
    if (object.contains(file)) {
      Json& f = object[file];
      f["name"] = leaf(f.value("path", ""));
      f.erase("path");
    }
  if (object.contains("copies"))
    for (Json& copy : object["copies"]) copy = leaf(copy.get<std::string>());
  for (Json& line : object["sidecars"]) {
    line["name"] = leaf(line.value("path", ""));
    line.erase("path");
  }
}

Json focus_elsewhere_of(const FrameFacts& f) {
  const auto ratio = value_of(f, "focus_elsewhere");
  if (!ratio) return nullptr;
  Json out{{"ratio", number(ratio)},
           {"confidence", number(confidence_of(f, "focus_elsewhere"))},
           {"blur", number(value_of(f, "focus_elsewhere_px"))},
           {"side", number(value_of(f, "focus_elsewhere_side"))},
           {"box", nullptr}};
  const auto x = value_of(f, "focus_elsewhere_x"), y = value_of(f, "focus_elsewhere_y"),
             w = value_of(f, "focus_elsewhere_w"), h = value_of(f, "focus_elsewhere_h");
  if (x && y && w && h) out["box"] = box(Region{*x, *y, *w, *h});
  return out;
}

}  // namespace

std::string json_text(const std::string& text) {
  return dumped(Json(one_line(text)));
}

std::string frame_head_json(std::uint32_t id, std::uint32_t burst, const FrameOutcome& o) {
  const FrameVerdict& v = o.verdict;
  const FrameFacts& f = o.facts;
  const Subject* s = f.subjects.empty() ? nullptr : &f.subjects.front();
  const auto [width, height] = size_of(o);
  Json out{{"id", id},
           {"name", leaf(o.frame.main().path)},
           {"burst", burst},
           {"pose", v.pose},
           {"place", v.place},
           {"time_ms", o.frame.capture.time_ms ? Json(*o.frame.capture.time_ms) : Json(nullptr)},
           {"width", width},
           {"height", height},
           {"verdict", name_of(v.verdict)},
           {"rating", v.rating ? Json(*v.rating) : Json(nullptr)},
           {"blur", number(value_of(f, "blur_sigma_px"))},
           {"blur_confidence", number(confidence_of(f, "blur_sigma_px"))},
           {"motion", number(value_of(f, "motion_px"))},
           {"whites", number(lost_whites_of(f))},
           {"cut", number(value_of(f, "cut_by_edge"))},
           {"head", box(s ? s->head : std::nullopt)},
           {"head_view", name_of(s ? s->head_view : HeadView::unknown)},
           {"subject", s ? box(s->box) : Json(nullptr)},
           {"area", box(o.frame.capture.af ? std::optional(o.frame.capture.af->box) : std::nullopt)},
           {"reason", v.reasons.empty() ? "" : one_line(v.reasons.front().text)},
           {"codes", codes_of(v)},
           {"damaged", !f.damage.empty()}};
  std::string text = dumped(out);
  text.pop_back();
  return text;
}

std::string burst_json_of(std::uint32_t id, std::uint32_t first, const BurstOutcome& b) {
  std::map<int, std::vector<std::uint32_t>> poses;
  Json frames = Json::array();
  for (std::uint32_t i = 0; i < b.frames.size(); ++i) {
    frames.push_back(first + i);
    poses[b.frames[i].verdict.pose].push_back(first + i);
  }
  Json groups = Json::array();
  for (auto& [pose, ids] : poses) {
    std::stable_sort(ids.begin(), ids.end(), [&](std::uint32_t x, std::uint32_t y) {
      return b.frames[x - first].verdict.place < b.frames[y - first].verdict.place;
    });
    groups.push_back({{"pose", pose}, {"frames", ids}});
  }
  const Json start = b.frames.empty() ? Json(nullptr) : iso_time(b.frames.front().frame.capture);
  return dumped(
      {{"id", id}, {"camera", one_line(b.camera)}, {"start", start}, {"frames", frames}, {"poses", groups}});
}

std::string whole_frame_json(std::uint32_t id, const FrameOutcome& o, const std::optional<Mine>& mine) {
  Json out{{"id", id}, {"name", leaf(o.frame.main().path)}, {"mine", Json::parse(mine_json(mine))}};
  Json rest = Json::parse(report::frame_json(o));
  only_names(rest);
  out.update(rest);
  if (out.contains("subjects"))
    for (std::size_t i = 0; i < out["subjects"].size() && i < o.facts.subjects.size(); ++i) {
      const Subject& s = o.facts.subjects[i];
      Json& to = out["subjects"][i];
      to["head"] = box(s.head);
      to["head_view"] = name_of(s.head_view);
      to["head_confidence"] = number(s.head_confidence);
      to["why"] = one_line(s.why);
    }
  if (o.frame.capture.af)
    out["af"] = {{"box", box(o.frame.capture.af->box)},
                 {"confidence", number(o.frame.capture.af->confidence)},
                 {"source", one_line(o.frame.capture.af->source)}};
  else
    out["af"] = nullptr;
  out["focus_elsewhere"] = focus_elsewhere_of(o.facts);
  return dumped(out);
}

std::string burst_series_json(std::uint32_t id, std::uint32_t first, const BurstOutcome& b) {
  Json frames = Json::array();
  for (std::uint32_t i = 0; i < b.frames.size(); ++i) {
    const FrameFacts& f = b.frames[i].facts;
    const auto blur = value_of(f, "blur_sigma_px");
    const auto& time = b.frames[i].frame.capture.time_ms;
    Json one{{"id", first + i}, {"time_ms", time ? Json(*time) : Json(nullptr)}};
    one["blur"] = number(blur);
    // One standard deviation to each side, as the ranking takes it: a unit of its score is a factor of two.
    const rank::Standing standing = rank::standing_of(f);
    const bool band = blur && standing.known && standing.uncertainty > 0;
    one["blur_low"] = number(band ? std::optional(*blur * std::exp2(-standing.uncertainty)) : std::nullopt);
    one["blur_high"] = number(band ? std::optional(*blur * std::exp2(standing.uncertainty)) : std::nullopt);
    one["blur_confidence"] = number(confidence_of(f, "blur_sigma_px"));
    one["motion"] = number(value_of(f, "motion_px"));
    one["motion_confidence"] = number(confidence_of(f, "motion_px"));
    one["whites"] = number(lost_whites_of(f));
    one["whites_confidence"] = number(confidence_of(f, "white_clipped_g"));
    frames.push_back(std::move(one));
  }
  return dumped({{"id", id}, {"frames", frames}});
}

}  // namespace burstsieve::serve
