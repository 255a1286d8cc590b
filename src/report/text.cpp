#include "burstsieve/report/text.h"

#include <fmt/format.h>

#include <algorithm>
#include <cstdint>
#include <ctime>

#include "burstsieve/base/file_system.h"
#include "burstsieve/base/text.h"
#include "burstsieve/model/depth_of_field.h"
#include "burstsieve/model/motion_blur.h"
#include "burstsieve/rank/motion_kind.h"
#include "burstsieve/rank/several.h"

namespace burstsieve::report {
namespace {

std::string number(const FrameFacts& facts, const char* id, int decimals) {
  const Measure* m = find(facts.measures, id);
  return m ? fixed(m->value, decimals) : "-";
}

std::string lost_whites(const FrameFacts& facts) {
  const Measure* g = find(facts.measures, "white_clipped_g");
  return g ? fixed(100 * g->value, 1) + "%" : "-";
}

// Display columns, near enough: code points.
std::size_t width_of(const std::string& text) {
  return static_cast<std::size_t>(std::count_if(
      text.begin(), text.end(), [](char c) { return (static_cast<unsigned char>(c) & 0xC0) != 0x80; }));
}

std::string padded(const std::string& text, std::size_t width) {
  const std::size_t have = width_of(text);
  return have < width ? text + std::string(width - have, ' ') : text;
}

std::string frame_name(const Frame& f) {
  std::string name = one_line(leaf_of(f.main().path));
  if (f.raw && f.jpeg) name += " +JPEG";
  return name;
}

std::string rating_text(const FrameVerdict& v) {
  return v.rating ? std::to_string(*v.rating) : "-";
}

std::string optional_number(const char* label, const std::optional<double>& value, const char* unit,
                            int decimals) {
  return value ? fmt::format("  {}{}{}", label, fixed(*value, decimals), unit) : "";
}

std::string exposure_text(const std::optional<double>& seconds) {
  if (!seconds || !(*seconds > 0)) return "";
  return *seconds < .4 ? fmt::format("  1/{:.0f} s", 1 / *seconds)
                       : fmt::format("  {} s", fixed(*seconds, 1));
}

std::string region_text(const Region& r) {
  return fmt::format("x {} y {} w {} h {}", fixed(r.x, 3), fixed(r.y, 3), fixed(r.w, 3), fixed(r.h, 3));
}

// What moved, and what the streak says about speed; the streak of the background where only that one is seen.
std::string motion_text(const FrameOutcome& o) {
  const rank::MotionFinding found = rank::motion_kind(o.facts);
  if (found.kind == rank::MotionKind::unknown) return "";
  std::string out = fmt::format("  motion   {}: {}  (confidence {})\n", rank::name_of(found.kind), found.text,
                                fixed(found.confidence, 2));
  const bool pan = found.kind == rank::MotionKind::pan;
  const Measure* streak = find(o.facts.measures, pan ? "background_motion_px" : "motion_px");
  const ImpliedSpeed speed = implied_speed(o.frame.capture, streak ? streak->value : 0);
  if (!speed.px_per_s) return out + "  speed    unknown: the file does not state the exposure\n";
  const bool streaked = streak && streak->value > 0;
  out += "  speed  ";
  if (streaked) out += fmt::format("  {} px/s", fixed(*speed.px_per_s, 0));
  if (speed.degrees_per_s) {
    if (streaked) out += fmt::format(", {} degrees/s", fixed(*speed.degrees_per_s, 2));
    out +=
        fmt::format("{}this exposure draws {} px at 1 degree/s (pixel pitch {} um)\n", streaked ? "; " : "  ",
                    fixed(*speed.px_per_degree_per_s, 2), fixed(*o.frame.capture.pixel_pitch_um, 2));
  } else {
    out += fmt::format("{}degrees/s unknown: the file does not state the {}\n", streaked ? "; " : "  ",
                       o.frame.capture.pixel_pitch_um ? "focal length" : "pixel pitch");
  }
  return out;
}

// "600", "5.6", "19.87": no more decimals than a person asks for.
std::string short_number(double v, int decimals) {
  std::string out = fixed(v, decimals);
  if (out.find('.') == std::string::npos) return out;
  out.erase(out.find_last_not_of('0') + 1);
  if (out.ends_with('.')) out.pop_back();
  return out;
}

// Centimetres count near by, not far away.
std::string metres(double m) {
  if (m < .01) return short_number(1000 * m, 1) + " mm";
  return short_number(m, m < 100 ? 2 : 0) + " m";
}

std::string depth_of_one(const DepthOfField& d) {
  return d.far_m ? metres(*d.far_m - d.near_m) : "from " + metres(d.near_m) + " to infinity";
}

std::string depth_text(const Capture& c) {
  const FrameDepth d = depth_of(c);
  std::string out;
  if (c.distance) {
    out += fmt::format("  focused  at {}", metres(c.distance->metres));
    if (c.distance->nearest && c.distance->farthest)
      out += fmt::format(", somewhere from {} to {}", metres(*c.distance->nearest),
                         metres(*c.distance->farthest));
    out += fmt::format("  ({})\n", one_line(c.distance->source));
  }
  if (!d.missing.empty())
    return out + "  depth    of field unknown: the file does not state the " + d.missing + "\n";
  out += fmt::format("  depth    of field {} around {} ({} mm f/{}, circle {} um)", depth_of_one(d.classic),
                     metres(d.distance_m), short_number(*c.focal_mm, 1), short_number(*c.f_number, 1),
                     fixed(d.classic_um, 0));
  return out + fmt::format("; at 100 % {} (circle {} um, 2 pixels)\n", depth_of_one(d.pixels),
                           short_number(d.pixels_um, 1));
}

// "blur 3.10 px (confidence 0.80), size 0.21, cut 0.12": of one subject; empty where it was not measured.
std::string subject_numbers(const Subject& s) {
  std::string out;
  const auto add = [&](const std::string& text) { out += (out.empty() ? "" : ", ") + text; };
  if (const Measure* m = find(s.measures, "blur_sigma_px"))
    add(fmt::format("blur {} px (confidence {})", fixed(m->value, 2), fixed(m->confidence, 2)));
  if (const Measure* m = find(s.measures, "subject_size")) add("size " + fixed(m->value, 2));
  if (const Measure* m = find(s.measures, "cut_by_edge")) add("cut " + fixed(m->value, 2));
  return out;
}

// Where sharpness was read matters more than the head itself.
std::string head_text(const Subject& s) {
  const std::string where = s.head ? "  " + region_text(*s.head) : "";
  return fmt::format("  head     {}{}  confidence {}  (sharpness: {})\n", name_of(s.head_view), where,
                     fixed(s.head_confidence, 2), sharpness_from(s));
}

// Each subject with its own numbers where there are several.
std::string subjects_text(const FrameFacts& facts) {
  const rank::SeveralSubjects several = rank::several_subjects(facts);
  std::string out;
  for (std::size_t i = 0; i < facts.subjects.size(); ++i) {
    const Subject& s = facts.subjects[i];
    out += fmt::format("  subject  {}  confidence {}  ({})\n", region_text(s.box), fixed(s.confidence, 2),
                       one_line(s.source));
    out += head_text(s);
    const std::string numbers = subject_numbers(s);
    if (several.count > 1 && !numbers.empty())
      out += "           " + numbers +
             (several.depth[i] > 0 ? std::string(", ") + name_of(several.inside[i]) : "") + "\n";
  }
  if (!several.text.empty()) out += "  several  " + several.text + "\n";
  return out;
}

}  // namespace

std::string time_text(const Capture& c) {
  if (!c.time_ms) return "time unknown";
  const std::int64_t ms = ((*c.time_ms % 1000) + 1000) % 1000;
  const auto seconds = static_cast<std::time_t>((*c.time_ms - ms) / 1000);
  std::tm parts{};
  if (!gmtime_r(&seconds, &parts)) return "time unknown";
  std::string out = fmt::format("{:04}-{:02}-{:02} {:02}:{:02}:{:02}", parts.tm_year + 1900, parts.tm_mon + 1,
                                parts.tm_mday, parts.tm_hour, parts.tm_min, parts.tm_sec);
  if (c.subsecond_known) out += fmt::format(".{:03}", ms);
  return out + (c.utc_offset_minutes ? " UTC" : " camera time");
}

std::string burst_table(const BurstOutcome& burst) {
  std::size_t name_width = 5;
  for (const FrameOutcome& f : burst.frames) name_width = std::max(name_width, width_of(frame_name(f.frame)));
  std::string out =
      fmt::format("Burst {}  {}  {}  {} frame{}{}\n", burst.number,
                  time_text(burst.frames.front().frame.capture), one_line(burst.camera), burst.frames.size(),
                  burst.frames.size() == 1 ? "" : "s", burst.remembered ? "  (measured earlier)" : "");
  out += fmt::format("  {}  pose  place  verdict    rating  blur px  streak px  whites  why\n",
                     padded("frame", name_width));
  for (const FrameOutcome& f : burst.frames) {
    const FrameVerdict& v = f.verdict;
    const std::string pose = v.pose ? std::to_string(v.pose) : "-",
                      place = v.place ? std::to_string(v.place) : "-";
    out += fmt::format("  {}  {:>4}  {:>5}  {:<9}  {:>6}  {:>7}  {:>9}  {:>6}  {}\n",
                       padded(frame_name(f.frame), name_width), pose, place, name_of(v.verdict),
                       rating_text(v), number(f.facts, "blur_sigma_px", 2), number(f.facts, "motion_px", 1),
                       lost_whites(f.facts), v.reasons.empty() ? "" : one_line(v.reasons.front().text));
    for (const SidecarLine& s : f.sidecars)
      if (s.change == "human")
        out += fmt::format("  {}  your own rating stands: {}\n", std::string(name_width, ' '),
                           one_line(s.human_rating));
  }
  return out;
}

std::string summary_text(const RunSummary& s, const std::vector<LightDrift>& light) {
  std::string out =
      fmt::format("Found    {} raw and {} JPEG files in {} folders", s.scan.raw, s.scan.jpeg, s.scan.folders);
  const auto also = [&](std::size_t count, const char* what) {
    if (count) out += fmt::format(", {} {}", count, what);
  };
  also(s.scan.sidecars, "sidecars");
  also(s.scan.other, "other files");
  also(s.scan.hidden, "hidden");
  also(s.scan.empty, "empty");
  also(s.scan.repeated, "reached twice");
  also(s.scan.waiting, "not ready yet");
  if (s.frames == 0) return out + "\nNo photographs here: nothing to do\n";
  out += fmt::format("\nFrames   {} in {} bursts", s.frames, s.bursts);
  also(s.pairs, "raw+JPEG pairs");
  also(s.copies, "copies");
  out += fmt::format("\nVerdicts {} keep, {} reject, {} undecided", s.keep, s.reject, s.undecided);
  if (s.spare) out += fmt::format(" ({} of them spare: a frame as good is kept)", s.spare);
  also(s.damaged, "damaged (left undecided)");
  if (s.measured == 0 && s.frames > 0)
    out += fmt::format("\nMeasured nothing: all {} frames are known from an earlier run", s.remembered);
  else
    out += fmt::format("\nMeasured {} frames now, {} known from an earlier run, {} raw mosaics read",
                       s.measured, s.remembered, s.mosaics);
  out +=
      fmt::format("\nSidecars {} created, {} updated, {} unchanged, {} left to your own rating{}", s.created,
                  s.updated, s.unchanged, s.human, s.dry_run ? "  (dry run: nothing was written)" : "");
  for (const LightDrift& d : light) out += "\nLight    " + drift_text(d);
  if (!s.profile.empty())
    out += fmt::format(
        "\nTaste    of the frames that stay, the one to keep was chosen by {} (profile {}; burstsieve "
        "preferences)",
        s.learnt_from ? fmt::format("what {} ratings of yours taught", s.learnt_from)
                      : std::string("imported preferences"),
        s.profile);
  if (s.detector_missing)
    out += "\nDetector none: birds were found by focus area, detail and motion (tools/setup.sh --detector)";
  if (s.errors) out += fmt::format("\nErrors   {}", s.errors);
  return out + "\n";
}

std::string explanation(const FrameOutcome& o) {
  const Capture& c = o.frame.capture;
  std::string out = one_line(o.frame.main().path) + "\n";
  if (o.frame.raw && o.frame.jpeg) out += "  with     " + one_line(o.frame.jpeg->path) + "\n";
  for (const FileRef& copy : o.frame.copies) out += "  copy     " + one_line(copy.path) + "\n";
  out += fmt::format("  taken    {}{}\n", time_text(c),
                     (c.make + c.model).empty() ? "" : "  " + one_line(c.model.empty() ? c.make : c.model));
  const std::string exposure = optional_number("", c.focal_mm, " mm", 0) +
                               optional_number("f/", c.f_number, "", 1) + exposure_text(c.exposure_s) +
                               optional_number("ISO ", c.iso, "", 0);
  if (!exposure.empty()) out += "  with    " + exposure + "\n";
  out += depth_text(c);
  if (c.af)
    out += fmt::format("  AF area  {}  confidence {}  ({})\n", region_text(c.af->box),
                       fixed(c.af->confidence, 2), one_line(c.af->source));
  out += fmt::format(
      "  verdict  {}{}{}\n", name_of(o.verdict.verdict),
      o.verdict.rating ? fmt::format(", rating {}", *o.verdict.rating) : "",
      o.verdict.pose ? fmt::format(", place {} in pose {}", o.verdict.place, o.verdict.pose) : "");
  if (!o.verdict.better.empty()) out += "  stays    " + one_line(o.verdict.better) + "\n";
  for (const Reason& r : o.verdict.reasons)
    out += fmt::format("  because  {}  (confidence {})\n", one_line(r.text), fixed(r.confidence, 2));
  if (!o.facts.damage.empty()) out += "  damage   " + one_line(o.facts.damage) + "\n";
  if (o.facts.decoded)
    out += fmt::format("  pixels   {} x {} from the {}\n", o.facts.pixel_width, o.facts.pixel_height,
                       one_line(o.facts.pixel_source));
  out += subjects_text(o.facts);
  for (const Measure& m : o.facts.measures)
    out += fmt::format("  measure  {:<16} {:>9} {:<9}  confidence {}  ({})\n", m.id, fixed(m.value, 3),
                       m.unit, fixed(m.confidence, 2), one_line(m.basis));
  out += motion_text(o);
  if (const auto light = frame_light(o.facts); light && light->confidence >= .2)
    out += fmt::format("  light    white plumage at {}  (confidence {})\n",
                       light_text(light->mired, light->duv), fixed(light->confidence, 2));
  for (const std::string& note : c.notes) out += "  note     " + one_line(note) + "\n";
  for (const std::string& note : o.facts.notes) out += "  note     " + one_line(note) + "\n";
  return out;
}

}  // namespace burstsieve::report
