#include "burstsieve/camera/af_box.h"

#include <algorithm>
#include <cmath>
#include <utility>

#include "burstsieve/base/text.h"

namespace burstsieve::camera {
namespace {

bool plausible(const Region& r) {
  if (!std::isfinite(r.x) || !std::isfinite(r.y) || !std::isfinite(r.w) || !std::isfinite(r.h)) return false;
  if (r.empty() || r.w > 1 || r.h > 1) return false;
  const double x = r.centre_x();
  const double y = r.centre_y();
  return x >= 0 && x <= 1 && y >= 0 && y <= 1;
}

}  // namespace

std::optional<std::int64_t> integer(const TagView& tags, std::string_view key, std::size_t index) {
  const auto values = tags.ints(key);
  if (!values || index >= values->size()) return std::nullopt;
  return (*values)[index];
}

SensorSize sensor_size(const Capture& capture) {
  if (capture.width <= 0 || capture.height <= 0) return {};
  SensorSize s{static_cast<double>(capture.width), static_cast<double>(capture.height)};
  if (swaps_sides(capture.orientation)) std::swap(s.width, s.height);
  return s;
}

bool set_af(Capture& capture, const Region& sensor_box, double confidence, std::string source) {
  const Region inside = plausible(sensor_box) ? clamped(sensor_box) : Region{};
  if (inside.empty()) {
    capture.notes.push_back("AF area ignored: " + source + " points outside the frame");
    return false;
  }
  capture.af = AfArea{clamped(upright(inside, capture.orientation)), confidence, std::move(source)};
  return true;
}

bool set_af_point(Capture& capture, double x, double y, double confidence, std::string source) {
  double w = kPointSide;
  double h = kPointSide;
  if (const SensorSize s = sensor_size(capture); s.width > 0) {
    const double side = kPointSide * std::max(s.width, s.height);
    w = std::min(1.0, side / s.width);
    h = std::min(1.0, side / s.height);
  }
  return set_af(capture, {x - w / 2, y - h / 2, w, h}, confidence, std::move(source));
}

void set_text(std::string& target, const TagView& tags, std::string_view key) {
  if (!target.empty()) return;
  const auto value = tags.text(key);
  if (!value) return;
  const std::string text = trimmed(*value);
  const bool printable =
      std::all_of(text.begin(), text.end(), [](unsigned char c) { return c >= 0x20 && c != 0x7f; });
  if (printable && text.size() <= 200) target = text;
}

}  // namespace burstsieve::camera
