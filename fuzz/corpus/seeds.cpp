// Valid inputs: what our own encoders and real camera files give.
#include <algorithm>
#include <filesystem>
#include <opencv2/core.hpp>

#include "burstsieve/base/text.h"
#include "burstsieve/camera/exif_af.h"
#include "burstsieve/camera/maker.h"
#include "burstsieve/decode/exif_fields.h"
#include "burstsieve/decode/exif_tags.h"
#include "burstsieve/sidecar/merge.h"
#include "cases.h"
#include "codec.h"
#include "decode/dng_maker.h"
#include "decode/jpeg_maker.h"
#include "support/note_tags.h"

namespace burstsieve::fuzz {
namespace {

void add_jpeg_seeds(Cases& to) {
  using decode_test::JpegKind;
  const struct {
    const char* name;
    JpegKind kind;
  } all[] = {{"420", {}},
             {"422", {.v = 1}},
             {"444", {.h = 1, .v = 1}},
             {"440", {.h = 1}},
             {"411", {.h = 4, .v = 1}},
             {"grey", {.grey = true}},
             {"progressive", {.progressive = true}},
             {"rgb", {.rgb = true}},
             {"cmyk", {.cmyk = true}},
             {"restarts", {.restart_rows = 1}}};
  for (const auto& [name, kind] : all) {
    const ByteBuffer jpeg = decode_test::make_jpeg(decode_test::scene(61, 45), kind);
    for (const char* target : {"jpeg", "preview", "sniff", "capture"})
      to.push_back({target, std::string("own-") + name + ".jpg", jpeg});
  }
}

void add_dng_seeds(Cases& to) {
  using decode_test::DngKind;
  const cv::Mat mosaic = decode_test::noise_mosaic(48, 32);
  const ByteBuffer preview = decode_test::make_jpeg(decode_test::scene(48, 32), {});
  DngKind strips, tiles, big, rich;
  strips.rows_per_strip = 5;
  tiles.tile_width = tiles.tile_height = 16;
  big.big_endian = true;
  rich.preview = preview;
  rich.preview_size = {48, 32};
  rich.active = {4, 2, 40, 28};
  rich.crop = {2, 2, 32, 24};
  rich.black = {60, 61, 62, 63};
  const std::pair<const char*, DngKind> all[] = {
      {"strips", strips}, {"tiles", tiles}, {"big-endian", big}, {"preview", rich}};
  for (const auto& [name, kind] : all)
    for (const char* target : {"tiff", "mosaic", "sniff", "raw_header", "capture", "preview"})
      to.push_back({target, std::string("own-") + name + ".dng", decode_test::make_dng(mosaic, kind)});
}

void add_sidecar_seeds(Cases& to) {
  for (const Verdict verdict : {Verdict::keep, Verdict::reject, Verdict::undecided}) {
    SidecarEntry e;
    e.verdict.verdict = verdict;
    if (verdict != Verdict::undecided) e.verdict.rating = verdict == Verdict::keep ? 4 : -1;
    e.verdict.reasons = {{"soft", "blur 3.1 px > 2.2 px", 3.1, "px", 2.2, .9}};
    e.measures = {{"blur_sigma_px", 3.1, "px", .9, "jpeg"}};
    e.frame_key = "00ff";
    e.engine_version = "0.1.0";
    const auto merged = merge({}, e);
    if (!merged) continue;
    for (const char* target : {"merge", "xml_scan"})
      to.push_back({target, std::string("own-") + name_of(verdict) + ".xmp", merged->bytes});
  }
}

void add_record_seeds(Cases& to) {
  const auto add = [&](const char* name, ByteBuffer record) {
    to.push_back({"records", std::string("own-whole-") + name, record});
    record.resize(record.size() - 8);
    to.push_back({"records", std::string("own-body-") + name, record});
  };
  Capture c;
  c.make = "Saltmarsh";
  c.time_ms = 1'700'000'000'000;
  c.iso = 800;
  c.af = AfArea{{.4, .4, .2, .2}, .9, "test"};
  c.notes = {"one", "two"};
  add("capture", catalog::encode(c));
  FrameFacts f;
  f.decoded = true;
  f.subjects = {{{.1, .1, .5, .5}, Region{.1, .1, .1, .1}, .8, "AF area"}};
  f.mask = {3, 2, {0, 1, 1, 0, 1, 0}};
  f.measures = {{"blur_sigma_px", 1.25, "px", .9, "jpeg"}};
  f.pose = {0x1234, {1, 2, 3}};
  add("facts", catalog::encode(f));
  FrameVerdict v;
  v.verdict = Verdict::reject;
  v.rating = -1;
  v.reasons = {{"soft", "soft", 3, "px", 2, .9}};
  v.better = "A.JPG";
  add("verdict", catalog::encode(v));
}

// As decode::read_capture asks.
void ask_everything(const camera::TagView& tags, Capture& c, std::size_t maker) {
  decode::read_exif_fields(tags, {}, c);
  camera::makers()[maker]->read(tags, c);
  camera::read_exif_af(tags, c);
  static_cast<void>(decode::lens_by_numbers(tags));
}

}  // namespace

void add_own_seeds(Cases& to) {
  add_jpeg_seeds(to);
  add_dng_seeds(to);
  add_sidecar_seeds(to);
  add_record_seeds(to);
}

void add_recorded_notes(const std::string& folder, Cases& to) {
  namespace fs = std::filesystem;
  std::vector<fs::path> files;
  for (const auto& entry : fs::recursive_directory_iterator(folder))
    if (entry.is_regular_file() && entry.file_size() < 4u << 20) files.push_back(entry.path());
  std::sort(files.begin(), files.end());
  const auto makers = camera::makers();
  for (const fs::path& file : files) {
    const auto loaded = decode::load_tags(file.string());
    if (loaded.count == 0) continue;
    const std::string make = lower_ascii(loaded.tags->text("Image.Make").value_or(""));
    for (std::size_t m = 0; m < makers.size(); ++m) {
      if (!makers[m]->matches(make)) continue;
      const RecordingTags recording(*loaded.tags);
      Capture c;
      ask_everything(recording, c, m);
      ByteBuffer note{static_cast<std::uint8_t>(m)};
      note.insert(note.end(), recording.record().begin(), recording.record().end());
      to.push_back({"maker_notes", "note-of-" + file.filename().string(), note});
    }
  }
}

}  // namespace burstsieve::fuzz
