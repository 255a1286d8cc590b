#include "burstsieve/report/json.h"

#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <nlohmann/json.hpp>

#include "burstsieve/base/text.h"
#include "burstsieve/base/version.h"
#include "burstsieve/model/depth_of_field.h"
#include "burstsieve/model/motion_blur.h"
#include "burstsieve/rank/motion_kind.h"
#include "burstsieve/rank/several.h"
#include "light_json.h"

namespace burstsieve::report {
namespace {

using Json = nlohmann::ordered_json;

// 6 significant digits: enough for every unit here, and the last bits of a sum are nobody's business.
double rounded(double v) {
  if (!std::isfinite(v)) return 0;
  char text[32];
  std::snprintf(text, sizeof text, "%.6g", v);
  return std::strtod(text, nullptr);
}

Json region(const Region& r) {
  return Json::array({rounded(r.x), rounded(r.y), rounded(r.w), rounded(r.h)});
}

Json file(const FileRef& f) {
  return {{"path", one_line(f.path)}, {"format", f.format}, {"bytes", f.size}};
}

template <class T>
void put(Json& to, const char* key, const std::optional<T>& value) {
  if (!value) return;
  if constexpr (std::is_floating_point_v<T>)
    to[key] = rounded(*value);
  else
    to[key] = *value;
}

Json capture(const Capture& c) {
  Json out{{"make", one_line(c.make)},
           {"model", one_line(c.model)},
           {"serial", one_line(c.serial)},
           {"lens", one_line(c.lens)}};
  put(out, "time_ms", c.time_ms);
  out["subsecond_known"] = c.subsecond_known;
  put(out, "utc_offset_minutes", c.utc_offset_minutes);
  put(out, "focal_mm", c.focal_mm);
  put(out, "f_number", c.f_number);
  put(out, "exposure_s", c.exposure_s);
  put(out, "iso", c.iso);
  put(out, "pixel_pitch_um", c.pixel_pitch_um);
  if (c.distance) {
    Json& d = out["distance"] = {{"m", rounded(c.distance->metres)}};
    put(d, "nearest_m", c.distance->nearest);
    put(d, "farthest_m", c.distance->farthest);
    d["source"] = one_line(c.distance->source);
  }
  out["orientation"] = c.orientation;
  if (c.af)
    out["af"] = {{"box", region(c.af->box)},
                 {"confidence", rounded(c.af->confidence)},
                 {"source", one_line(c.af->source)}};
  put(out, "sequence_number", c.sequence_number);
  put(out, "shutter_count", c.shutter_count);
  put(out, "file_number", c.file_number);
  return out;
}

// far_m is absent where it is infinity.
Json depth_within(const DepthOfField& d, double circle_um) {
  Json out{{"circle_um", rounded(circle_um)}, {"near_m", rounded(d.near_m)}};
  put(out, "far_m", d.far_m);
  return out;
}

Json depth(const Capture& c) {
  const FrameDepth d = depth_of(c);
  if (!d.missing.empty()) return {{"missing", d.missing}};
  return {{"distance_m", rounded(d.distance_m)},
          {"hyperfocal_m", rounded(d.hyperfocal_m)},
          {"whole_picture", depth_within(d.classic, d.classic_um)},
          {"at_100_percent", depth_within(d.pixels, d.pixels_um)}};
}

Json reasons(const std::vector<Reason>& all) {
  Json out = Json::array();
  for (const Reason& r : all)
    out.push_back({{"code", r.code},
                   {"text", one_line(r.text)},
                   {"value", rounded(r.value)},
                   {"unit", r.unit},
                   {"limit", rounded(r.limit)},
                   {"confidence", rounded(r.confidence)}});
  return out;
}

Json motion(const FrameOutcome& o) {
  const rank::MotionFinding found = rank::motion_kind(o.facts);
  Json out{{"kind", rank::name_of(found.kind)},
           {"text", found.text},
           {"confidence", rounded(found.confidence)},
           {"background_known", found.background_known}};
  const bool pan = found.kind == rank::MotionKind::pan;
  const Measure* streak = find(o.facts.measures, pan ? "background_motion_px" : "motion_px");
  const ImpliedSpeed speed = implied_speed(o.frame.capture, streak ? streak->value : 0);
  if (streak && streak->value > 0) {
    put(out, "px_per_s", speed.px_per_s);
    put(out, "degrees_per_s", speed.degrees_per_s);
  }
  put(out, "px_per_degree_per_s", speed.px_per_degree_per_s);
  return out;
}

Json measures(const std::vector<Measure>& all) {
  Json out = Json::object();
  for (const Measure& m : all)
    out[m.id] = {{"value", rounded(m.value)},
                 {"unit", m.unit},
                 {"confidence", rounded(m.confidence)},
                 {"basis", m.basis}};
  return out;
}

// region: where sharpness was asked for first; absent where no head is trusted.
Json head_of(const Subject& s) {
  Json out{{"view", name_of(s.head_view)}, {"confidence", rounded(s.head_confidence)}};
  if (s.head) out["region"] = region(*s.head);
  out["sharpness_from"] = sharpness_from(s);
  return out;
}

// depth: 1 for the subjects that are sharpest together, 2 for the next; absent where the blur is not known.
// at_100_percent: whether it lies within the depth of field of the sharpest.
void put_subjects(Json& to, const FrameFacts& facts) {
  const rank::SeveralSubjects several = rank::several_subjects(facts);
  to["subjects"] = Json::array();
  for (std::size_t i = 0; i < facts.subjects.size(); ++i) {
    const Subject& s = facts.subjects[i];
    Json one{{"box", region(s.box)}, {"confidence", rounded(s.confidence)}, {"source", s.source}};
    one["head"] = head_of(s);
    if (several.depth[i] > 0) {
      one["depth"] = several.depth[i];
      one["at_100_percent"] = name_of(several.inside[i]);
    }
    if (!s.measures.empty()) one["measures"] = measures(s.measures);
    to["subjects"].push_back(std::move(one));
  }
  if (!several.text.empty()) to["several"] = several.text;
}

Json notes(const FrameOutcome& o) {
  Json out = Json::array();
  for (const auto& n : o.frame.capture.notes) out.push_back(one_line(n));
  for (const auto& n : o.facts.notes) out.push_back(one_line(n));
  return out;
}

Json frame(const FrameOutcome& o) {
  Json out;
  if (o.frame.raw) out["raw"] = file(*o.frame.raw);
  if (o.frame.jpeg) out["jpeg"] = file(*o.frame.jpeg);
  for (const FileRef& copy : o.frame.copies) out["copies"].push_back(one_line(copy.path));
  out["capture"] = capture(o.frame.capture);
  out["verdict"] = name_of(o.verdict.verdict);
  put(out, "rating", o.verdict.rating);
  out["pose"] = o.verdict.pose;
  out["place"] = o.verdict.place;
  if (!o.verdict.better.empty()) out["better"] = one_line(o.verdict.better);
  out["reasons"] = reasons(o.verdict.reasons);
  if (!o.facts.damage.empty()) out["damage"] = one_line(o.facts.damage);
  out["pixels"] = {
      {"width", o.facts.pixel_width}, {"height", o.facts.pixel_height}, {"source", o.facts.pixel_source}};
  put_subjects(out, o.facts);
  out["measures"] = measures(o.facts.measures);
  out["motion"] = motion(o);
  out["depth_of_field"] = depth(o.frame.capture);
  out["notes"] = notes(o);
  out["sidecars"] = Json::array();
  for (const SidecarLine& s : o.sidecars) {
    Json line{{"path", one_line(s.path)}, {"change", s.change}};
    if (!s.human_rating.empty()) line["human_rating"] = one_line(s.human_rating);
    out["sidecars"].push_back(line);
  }
  return out;
}

}  // namespace

std::string frame_json(const FrameOutcome& o) {
  return frame(o).dump();
}

std::string burst_json(const BurstOutcome& b) {
  Json out{
      {"type", "burst"}, {"number", b.number}, {"camera", one_line(b.camera)}, {"frames", Json::array()}};
  if (const auto light = burst_light(b)) out["light"] = light_json(*light);
  for (const FrameOutcome& f : b.frames) out["frames"].push_back(frame(f));
  return out.dump();
}

std::string error_json(const Error& e) {
  return Json{
      {"type", "error"}, {"cause", name_of(e.cause)}, {"file", one_line(e.file)}, {"text", one_line(e.text)}}
      .dump();
}

std::string summary_json(const RunSummary& s, const std::vector<LightDrift>& light) {
  Json out{{"type", "summary"},
           {"version", kVersion},
           {"engine_version", kEngineVersion},
           {"scan",
            {{"raw", s.scan.raw},
             {"jpeg", s.scan.jpeg},
             {"sidecars", s.scan.sidecars},
             {"other", s.scan.other},
             {"hidden", s.scan.hidden},
             {"empty", s.scan.empty},
             {"repeated", s.scan.repeated},
             {"waiting", s.scan.waiting},
             {"folders", s.scan.folders}}},
           {"bursts", s.bursts},
           {"frames", s.frames},
           {"pairs", s.pairs},
           {"copies", s.copies},
           {"keep", s.keep},
           {"reject", s.reject},
           {"undecided", s.undecided},
           {"spare", s.spare},
           {"damaged", s.damaged},
           {"measured", s.measured},
           {"remembered", s.remembered},
           {"mosaics", s.mosaics},
           {"sidecars",
            {{"created", s.created}, {"updated", s.updated}, {"unchanged", s.unchanged}, {"human", s.human}}},
           {"errors", s.errors},
           {"dry_run", s.dry_run},
           {"detector", one_line(s.detector)},
           {"detector_missing", s.detector_missing}};
  if (!light.empty()) out["light"] = drifts_json(light);
  if (!s.profile.empty()) out["preferences"] = {{"profile", s.profile}, {"learnt_from", s.learnt_from}};
  return out.dump();
}

}  // namespace burstsieve::report
