#pragma once
#include <cmath>
#include <limits>
#include <string>
#include <vector>

#include "burstsieve/catalog/catalog.h"

namespace burstsieve::test {

// With every field away from its default, and doubles that only their bits carry.
inline Capture a_capture() {
  Capture c;
  c.make = "Canon";
  c.model = "Canon EOS R5";
  c.serial = "0123";
  c.lens = "RF \xc3\xa9 600";
  c.time_ms = -12'345;
  c.subsecond_known = true;
  c.utc_offset_minutes = -570;
  c.focal_mm = 600.1;
  c.f_number = 1.0 / 3;
  c.exposure_s = std::numeric_limits<double>::denorm_min();
  c.iso = 51200;
  c.pixel_pitch_um = 4.39;
  c.distance = SubjectDistance{20.1, 18.5, std::nullopt, "focus distance"};
  c.orientation = 6;
  c.width = 5464;
  c.height = 8192;
  c.drive = DriveMode::bracket;
  c.sequence_number = 4'294'967'295u;
  c.shutter_count = 18'446'744'073'709'551'615ull;
  c.file_number = 0;
  c.af = AfArea{{.1, .2, .3, .4}, .5, "AF points"};
  c.notes = {"one", "", std::string("nul \0 inside", 12)};
  return c;
}

inline FrameFacts some_facts(int n) {
  FrameFacts f;
  f.decoded = n % 2 == 0;
  f.damage = n % 2 == 0 ? "" : "cut";
  f.pixel_width = 8192 + n;
  f.pixel_height = 5464;
  f.pixel_source = "jpeg";
  f.subjects = {{{.1, .2, .3, .1 * n},
                 Region{.15, .25, .05, .05},
                 .9,
                 "burst motion",
                 {{"blur_sigma_px", 2.5, "px", .7, "jpeg"}}},
                {{0, 0, 1, 1}, std::nullopt, 0, "whole frame"}};
  f.mask = {2, 3, {0, 1, 0, 1, 1, 0}};
  f.measures = {{"blur_sigma_px", std::nextafter(1.0, 2.0), "px", .7, "jpeg"},
                {"motion_deg", -0.0, "deg", 1, "raw mosaic"}};
  f.pose.hash = 0xfedcba9876543210ull + static_cast<std::uint64_t>(n);
  f.pose.tile.assign(4096, static_cast<std::uint8_t>(n));
  f.thumbnail.assign(static_cast<std::size_t>(n) * 1000, 0xd8);
  f.notes = {"note " + std::to_string(n)};
  return f;
}

inline FrameVerdict a_verdict() {
  FrameVerdict v;
  v.verdict = Verdict::reject;
  v.rating = -1;
  v.reasons = {{"soft", "too soft", 3.25, "px", 2.5, .8}, {"", "", 0, "", 0, 0}};
  v.pose = 2;
  v.place = 7;
  v.better = "IMG_1.CR3";
  return v;
}

inline FileRef a_file(const std::string& path) {
  FileRef f;
  f.path = path;
  f.kind = FileKind::raw;
  f.format = "CR3";
  f.size = 25'000'000;
  f.mtime_ns = 1'700'000'000'123'456'789;
  f.fingerprint = 0xffffffffffffffffull;
  return f;
}

inline std::vector<Frame> some_frames(const std::string& folder, int count) {
  std::vector<Frame> out;
  for (int i = 0; i < count; ++i) {
    Frame f;
    f.raw = a_file(folder + "/" + std::to_string(i) + ".CR3");
    out.push_back(f);
  }
  return out;
}

inline std::vector<FrameFacts> facts_for(int count) {
  std::vector<FrameFacts> out;
  for (int i = 0; i < count; ++i) out.push_back(some_facts(i));
  return out;
}

}  // namespace burstsieve::test
