#include <chrono>
#include <cmath>
#include <cstdio>

#include "exif_tags.h"
#include "files.h"

namespace burstsieve::generate {
namespace {

std::string exif_time(std::int64_t ms) {
  using namespace std::chrono;
  const sys_time<milliseconds> at{milliseconds(ms)};
  const auto day = floor<days>(at);
  const year_month_day date{day};
  const hh_mm_ss<milliseconds> clock{at - day};
  char text[64];
  std::snprintf(text, sizeof text, "%04d:%02u:%02u %02d:%02d:%02d", static_cast<int>(date.year()),
                static_cast<unsigned>(date.month()), static_cast<unsigned>(date.day()),
                static_cast<int>(clock.hours().count()), static_cast<int>(clock.minutes().count()),
                static_cast<int>(clock.seconds().count()));
  return text;
}

std::string offset_text(int minutes) {
  char text[16];
  std::snprintf(text, sizeof text, "%c%02d:%02d", minutes < 0 ? '-' : '+', std::abs(minutes) / 60,
                std::abs(minutes) % 60);
  return text;
}

}  // namespace

Directory image_directory(const Exif& exif) {
  Directory d;
  d.ascii(0x010F, exif.make);
  d.ascii(0x0110, exif.model);
  d.shorts(0x0112, {static_cast<std::uint16_t>(exif.orientation)});
  d.rationals(0x011A, {{300, 1}});
  d.rationals(0x011B, {{300, 1}});
  d.shorts(0x0128, {2});
  d.ascii(0x0131, "burstsieve-generate");
  d.ascii(0x0132, exif_time(exif.local_time_ms));
  d.shorts(0x0213, {2});  // chroma co-sited
  d.longs(0x8769, {0});   // place of the Exif directory, filled in by the caller
  return d;
}

Directory exif_directory(const Exif& exif) {
  char subsecond[8];
  std::snprintf(subsecond, sizeof subsecond, "%03d",
                static_cast<int>(((exif.local_time_ms % 1000) + 1000) % 1000));
  const std::string time = exif_time(exif.local_time_ms), offset = offset_text(exif.utc_offset_minutes);
  Directory d;
  d.rationals(0x829A, {rational_of(exif.exposure_s)});
  d.rationals(0x829D, {rational_of(exif.f_number)});
  d.shorts(0x8822, {1});  // manual
  d.shorts(0x8827, {static_cast<std::uint16_t>(std::min(exif.iso, 65535))});
  d.shorts(0x8830, {2});  // recommended exposure index
  d.longs(0x8832, {static_cast<std::uint32_t>(exif.iso)});
  d.undefined(0x9000, "0232");
  d.ascii(0x9003, time);
  d.ascii(0x9004, time);
  d.ascii(0x9010, offset);
  d.ascii(0x9011, offset);
  d.ascii(0x9012, offset);
  d.undefined(0x9101, std::string_view("\1\2\3\0", 4));
  d.srationals(0x9204, {exif.exposure_bias_ev});
  d.shorts(0x9207, {5});
  d.shorts(0x9209, {0x10});
  d.rationals(0x920A, {rational_of(exif.focal_mm)});
  if (exif.subject_area[2] > 0) {
    std::vector<std::uint16_t> area;
    for (int v : exif.subject_area) area.push_back(static_cast<std::uint16_t>(v));
    d.shorts(0x9214, area);
  }
  d.ascii(0x9290, subsecond);
  d.ascii(0x9291, subsecond);
  d.ascii(0x9292, subsecond);
  d.undefined(0xA000, "0100");
  d.shorts(0xA001, {1});
  d.longs(0xA002, {static_cast<std::uint32_t>(exif.width)});
  d.longs(0xA003, {static_cast<std::uint32_t>(exif.height)});
  d.ascii(0xA431, exif.serial);
  d.rationals(0xA432, {rational_of(exif.focal_mm), rational_of(exif.focal_mm), rational_of(exif.f_number),
                       rational_of(exif.f_number)});
  d.ascii(0xA434, exif.lens);
  return d;
}

ByteBuffer exif_block(const Exif& exif) {
  ByteBuffer out = tiff_header();
  Directory image = image_directory(exif);
  image.longs(0x8769, {8 + image.size()});
  image.append_to(out);
  exif_directory(exif).append_to(out);
  return out;
}

}  // namespace burstsieve::generate
