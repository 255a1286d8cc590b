#include "frame.h"

#include <algorithm>
#include <cmath>
#include <map>
#include <opencv2/imgproc.hpp>

#include "optics.h"
#include "random.h"

namespace burstsieve::generate {
namespace {

// Puts sunlit white plumage about half a stop below clipping.
constexpr double base_exposure = 1.15;

// A layer at full-size resolution, placed in the frame.
struct Layer {
  cv::Rect area;  // may reach outside the frame
  cv::Mat4f colour;
  cv::Mat1f white;
};

int round_down(int v, int step) {
  return (v >= 0 ? v : v - step + 1) / step * step;
}

// Averages supersample x supersample samples per pixel and adds an empty margin for the blur to spread into.
Layer to_pixels(const Sprite& sprite, int ss, int margin) {
  const int x0 = round_down(sprite.area.x, ss), y0 = round_down(sprite.area.y, ss);
  const int x1 = -round_down(-sprite.area.br().x, ss), y1 = -round_down(-sprite.area.br().y, ss);
  Layer layer;
  layer.area =
      cv::Rect(x0 / ss - margin, y0 / ss - margin, (x1 - x0) / ss + 2 * margin, (y1 - y0) / ss + 2 * margin);
  layer.colour = cv::Mat4f(layer.area.size(), cv::Vec4f(0, 0, 0, 0));
  layer.white = cv::Mat1f(layer.area.size(), 0.0f);
  const int top = sprite.area.y - y0, left = sprite.area.x - x0;
  const int bottom = y1 - sprite.area.br().y, right = x1 - sprite.area.br().x;
  const cv::Rect inner(margin, margin, (x1 - x0) / ss, (y1 - y0) / ss);
  const auto shrink = [&](const cv::Mat& from, cv::Mat to) {
    cv::Mat padded = from;
    if (ss == 1) {
      padded.copyTo(to);
      return;
    }
    cv::copyMakeBorder(from, padded, top, bottom, left, right, cv::BORDER_CONSTANT, cv::Scalar::all(0));
    cv::resize(padded, to, to.size(), 0, 0, cv::INTER_AREA);
  };
  shrink(sprite.colour, layer.colour(inner));
  shrink(sprite.white, layer.white(inner));
  return layer;
}

void over(cv::Mat3f& picture, const cv::Mat4f& layer, cv::Rect area, float opacity = 1) {
  const cv::Rect both = area & cv::Rect(0, 0, picture.cols, picture.rows);
  for (int y = both.y; y < both.br().y; ++y) {
    const cv::Vec4f* from = layer[y - area.y] + (both.x - area.x);
    cv::Vec3f* to = picture[y] + both.x;
    for (int x = 0; x < both.width; ++x) {
      const float keep = 1 - opacity * from[x][3];
      for (int c = 0; c < 3; ++c) to[x][c] = to[x][c] * keep + opacity * from[x][c];
    }
  }
}

// The bird mirrored in rippled water, below `line` (row). What stood below the line is taken off the layer.
void reflect(cv::Mat3f& picture, Layer& layer, int line, double scale, double sigma, std::uint32_t seed) {
  const int rows = layer.area.height;
  cv::Mat4f mirror(rows, layer.area.width, cv::Vec4f(0, 0, 0, 0));
  for (int k = 0; k < rows; ++k) {
    const int from = line - 1 - k - layer.area.y;
    if (from < 0 || from >= rows) continue;
    const double depth = k / scale;
    const double wave = noise2(static_cast<float>(depth * 34), .5f, seed) +
                        .6 * static_cast<double>(noise2(static_cast<float>(depth * 90), 2.5f, seed));
    const int shift = static_cast<int>(std::lround(wave * scale * (.008 + .03 * depth)));
    const auto fade = static_cast<float>(std::max(0.0, .62 - .45 * depth));
    for (int x = 0; x < mirror.cols; ++x) {
      const int sx = x + shift;
      if (sx >= 0 && sx < mirror.cols) mirror(k, x) = layer.colour(from, sx) * fade;
    }
  }
  cv::GaussianBlur(mirror, mirror, cv::Size(), std::max(.6, .5 * sigma), std::max(1.0, sigma),
                   cv::BORDER_CONSTANT);
  over(picture, mirror, cv::Rect(layer.area.x, line, layer.area.width, rows));
  for (int y = std::max(0, line - layer.area.y); y < rows; ++y) {
    layer.colour.row(y).setTo(cv::Scalar::all(0));
    layer.white.row(y).setTo(0);
  }
}

struct Outline {
  cv::Rect box;
  double on_edge = 0;
};

// 4-connected outline of the coverage inside the frame. A pixel on the frame's border counts once.
Outline outline_of(const Layer& layer, cv::Size frame) {
  const cv::Rect both = layer.area & cv::Rect(cv::Point(0, 0), frame);
  Outline result;
  if (both.empty()) return result;
  const auto covered = [&](int x, int y) {
    return both.contains(cv::Point(x, y)) && layer.colour(y - layer.area.y, x - layer.area.x)[3] > .5f;
  };
  int x0 = frame.width, y0 = frame.height, x1 = -1, y1 = -1, total = 0, edge = 0;
  for (int y = both.y; y < both.br().y; ++y) {
    for (int x = both.x; x < both.br().x; ++x) {
      if (!covered(x, y)) continue;
      x0 = std::min(x0, x), y0 = std::min(y0, y), x1 = std::max(x1, x), y1 = std::max(y1, y);
      const bool border = x == 0 || y == 0 || x == frame.width - 1 || y == frame.height - 1;
      if (!border && covered(x - 1, y) && covered(x + 1, y) && covered(x, y - 1) && covered(x, y + 1))
        continue;
      ++total;
      edge += border ? 1 : 0;
    }
  }
  if (total == 0) return result;
  result.box = cv::Rect(x0, y0, x1 - x0 + 1, y1 - y0 + 1);
  result.on_edge = static_cast<double>(edge) / total;
  return result;
}

Region region_of(cv::Rect2d box, cv::Size frame) {
  return clamped(
      {box.x / frame.width, box.y / frame.height, box.width / frame.width, box.height / frame.height});
}

void turn(cv::Mat& image, int orientation) {
  // EXIF orientation says how the stored picture must be turned to stand upright; here its inverse is
  // applied.
  if (orientation == 3) cv::rotate(image, image, cv::ROTATE_180);
  if (orientation == 6) cv::rotate(image, image, cv::ROTATE_90_COUNTERCLOCKWISE);
  if (orientation == 8) cv::rotate(image, image, cv::ROTATE_90_CLOCKWISE);
}

void name_faults(FrameTruth& t, double white_clipped) {
  const auto add = [&](const char* fault, bool ruins) {
    t.faults.emplace_back(fault);
    t.ruined = t.ruined || ruins;
  };
  const bool too_soft = t.blur_sigma_px > ruin_limits.blur_sigma_px;
  if (t.focus_on != "subject")
    add("missed_focus", too_soft);
  else if (t.blur_sigma_px > soft_from_sigma_px)
    add("soft", too_soft);
  const bool streak = t.motion_px > ruin_limits.motion_px;
  if (t.motion_of == "subject" && t.motion_px > motion_from_px) add("subject_motion", streak);
  if (t.motion_of == "camera" && t.motion_px > motion_from_px) add("camera_shake", streak);
  if (white_clipped > .001) add("whites_clipped", white_clipped >= ruin_limits.white_clipped);
  if (t.cut_by_edge > 0) add("cut", t.cut_by_edge > ruin_limits.cut_by_edge);
  if (!t.head_visible) add("head_hidden", true);
}

double quantile(std::vector<float>& v, double q) {
  if (v.empty()) return 0;
  const auto at = static_cast<std::ptrdiff_t>(q * static_cast<double>(v.size() - 1));
  std::nth_element(v.begin(), v.begin() + at, v.end());
  return static_cast<double>(v[static_cast<std::size_t>(at)]);
}

double headroom(double brightest) {
  return brightest > 0 ? std::max(0.0, -std::log2(brightest)) : 0;
}

// AF area as the camera would place it: over the head, or the body where the head is out of reach.
std::array<int, 4> af_area(const FrameTruth& t, const BurstSpec& burst, cv::Size stored) {
  const Region seen = t.head.empty() || !t.head_visible ? t.subject : t.head;
  if (seen.empty()) return {0, 0, 0, 0};
  const Region r = as_sensor(seen, burst.orientation);
  return {static_cast<int>(std::lround(r.centre_x() * stored.width)),
          static_cast<int>(std::lround(r.centre_y() * stored.height)),
          std::max(2, static_cast<int>(std::lround(r.w * stored.width))),
          std::max(2, static_cast<int>(std::lround(r.h * stored.height)))};
}

// Pixels around a bird for its blur to spread into.
int margin_for(double sigma, double streak) {
  return static_cast<int>(std::ceil(4 * sigma + .5 * streak)) + 2;
}

Sprite sprite_of(const BirdPose& bird, V2 at, double scale, cv::Size size, int ss, int margin) {
  const int reach = (margin + 2) * ss;
  return render_bird(bird, {at.x * size.width * ss, at.y * size.height * ss}, scale * ss,
                     cv::Rect(-reach, -reach, size.width * ss + 2 * reach, size.height * ss + 2 * reach));
}

// Of a pixel's light, in 255ths, what shows of the bird through `layer` drawn before it.
void hide_behind(cv::Mat1b& shown, const cv::Mat4f& layer, cv::Rect area) {
  const cv::Rect both = area & cv::Rect(0, 0, shown.cols, shown.rows);
  for (int y = both.y; y < both.br().y; ++y)
    for (int x = both.x; x < both.br().x; ++x)
      shown(y, x) = cv::saturate_cast<unsigned char>(static_cast<float>(shown(y, x)) *
                                                     (1 - layer(y - area.y, x - area.x)[3]));
}

OtherTruth draw_other(cv::Mat3f& light, cv::Mat1b& shown, const OtherBird& other, double lens_sigma,
                      double streak, double degrees, int ss) {
  const double sigma = std::hypot(lens_sigma, other.defocus_sigma);
  const int margin = margin_for(sigma, streak);
  Layer layer = to_pixels(sprite_of(other.bird, other.at, other.scale, light.size(), ss, margin), ss, margin);
  const Outline outline = outline_of(layer, light.size());
  cv::Mat colour = layer.colour;
  blur(colour, sigma, streak, degrees);
  over(light, colour, layer.area);
  hide_behind(shown, colour, layer.area);
  return {region_of(outline.box, light.size()), std::sqrt(sigma * sigma + pixel_box_variance),
          outline.on_edge};
}

}  // namespace

RenderedFrame render_frame(const BurstSpec& burst, const FrameSpec& f) {
  const cv::Size size = burst.size;
  const int ss = burst.supersample;
  const bool on_subject = f.focus_on == FocusOn::subject;
  const double subject_sigma = std::hypot(f.lens_sigma, f.defocus_sigma);
  const bool subject_streaks = f.motion_of == MotionOf::subject || f.motion_of == MotionOf::camera;
  const bool scene_streaks = f.motion_of == MotionOf::camera || f.motion_of == MotionOf::pan;
  const double subject_streak = subject_streaks ? f.motion_px : 0,
               scene_streak = scene_streaks ? f.motion_px : 0;

  // Missed focus brings the other layer in.
  const double back_sigma = f.depth                             ? f.depth->backdrop
                            : f.focus_on == FocusOn::background ? f.lens_sigma
                            : f.focus_on == FocusOn::foreground ? 1.5 * burst.backdrop_sigma
                                                                : burst.backdrop_sigma;
  cv::Mat3f light = render_backdrop(burst.scene, size, f.shift_x, 0, back_sigma, burst.seed);
  if (f.depth && burst.reeds_behind > 0)
    over(light,
         render_reeds(size, f.shift_x * 1.1, f.depth->behind, burst.reeds_behind, burst.reeds_behind_height,
                      burst.seed + 53u, burst.reeds_behind_root),
         cv::Rect(cv::Point(0, 0), size));
  blur(light, 0, scene_streak, f.motion_deg);

  RenderedFrame out;
  FrameTruth& t = out.truth;
  const double shake = f.motion_of == MotionOf::camera ? f.motion_px : 0;
  t.others.resize(f.others.size());
  cv::Mat1b shown(size, static_cast<unsigned char>(0));
  const auto draw_others = [&](bool nearer) {
    for (std::size_t i = 0; i < f.others.size(); ++i)
      if ((f.others[i].scale > f.scale) == nearer)
        t.others[i] = draw_other(light, shown, f.others[i], f.lens_sigma, shake, f.motion_deg, ss);
  };
  draw_others(false);

  const int margin = margin_for(subject_sigma, subject_streak);
  const Sprite sprite = sprite_of(f.bird, f.at, f.scale, size, ss, margin);
  Layer layer = to_pixels(sprite, ss, margin);
  if (f.bird.pose == Pose::perched || f.bird.pose == Pose::feeding) {
    if (burst.scene == Scene::marsh_water) {
      const cv::Rect2d extent = bird_extent(f.bird);
      const int line = static_cast<int>(f.at.y * size.height + (extent.br().y - .075) * f.scale);
      reflect(light, layer, line, f.scale, 1.4 * f.scale / 400, burst.seed + 31u);
    }
  }
  const Outline outline = outline_of(layer, size);
  cv::Mat bird_colour = layer.colour, bird_white = layer.white;
  blur(bird_colour, subject_sigma, subject_streak, f.motion_deg);
  blur(bird_white, subject_sigma, subject_streak, f.motion_deg);
  layer.colour = bird_colour;
  layer.white = bird_white;
  over(light, layer.colour, layer.area);
  cv::Mat1b mask(size, static_cast<unsigned char>(0));
  const cv::Rect inside = layer.area & cv::Rect(cv::Point(0, 0), size);
  if (!inside.empty()) {
    cv::Mat coverage;
    cv::extractChannel(layer.colour(inside - layer.area.tl()), coverage, 3);
    coverage.convertTo(shown(inside), CV_8U, 255);
  }
  draw_others(true);

  if (!inside.empty()) {
    const cv::Mat1f part = layer.white(inside - layer.area.tl());
    mask(inside).setTo(255, part > .5f);
  }
  const cv::Point head_at(static_cast<int>(sprite.head.x / ss), static_cast<int>(sprite.head.y / ss));
  const bool head_in = cv::Rect(cv::Point(0, 0), size).contains(head_at);
  bool head_free = sprite.eye_seen >= .5 && head_in;
  if (burst.reeds > 0) {
    const double reeds_sigma = f.depth                             ? f.depth->before
                               : f.focus_on == FocusOn::foreground ? f.lens_sigma
                               : on_subject                        ? burst.reeds_sigma
                                                                   : 1.6 * burst.reeds_sigma;
    cv::Mat4f reeds =
        render_reeds(size, f.shift_x * 1.3, reeds_sigma, burst.reeds, burst.reeds_height, burst.seed + 17u);
    blur(reeds, 0, scene_streak, f.motion_deg);
    over(light, reeds, cv::Rect(cv::Point(0, 0), size));
    hide_behind(shown, reeds, cv::Rect(cv::Point(0, 0), size));
    for (int y = 0; y < size.height; ++y)
      for (int x = 0; x < size.width; ++x)
        if (reeds(y, x)[3] > .25f) mask(y, x) = 0;
    if (head_in && reeds(head_at)[3] > .6f) head_free = false;
  }
  light *= base_exposure * std::exp2(f.exposure_ev);

  t.time_ms = f.time_ms;
  t.pose = name_of(f.bird.pose);
  t.subject = region_of(outline.box, size);
  const double hr = sprite.head_radius / ss;
  t.head = region_of({sprite.head.x / ss - hr, sprite.head.y / ss - hr, 2 * hr, 2 * hr}, size);
  t.head_visible = head_free;
  t.blur_sigma_px = std::sqrt(subject_sigma * subject_sigma + pixel_box_variance);
  t.motion_px = f.motion_px;
  t.motion_deg = f.motion_deg;
  t.motion_of = name_of(f.motion_of);
  t.focus_on = name_of(f.focus_on);
  t.cut_by_edge = outline.on_edge;
  t.exposure_ev = f.exposure_ev;
  t.iso = f.iso;

  cv::Mat turned_light = light, turned_mask = mask, turned_shown = shown > 127;
  turn(turned_light, burst.orientation);
  turn(turned_mask, burst.orientation);
  turn(turned_shown, burst.orientation);
  out.subject_mask = turned_shown;
  out.light = turned_light;
  out.white_mask = turned_mask;
  // Only where there is plumage; an even corner keeps the mosaic's phase.
  const cv::Rect plumage = cv::boundingRect(out.white_mask);
  const cv::Point corner(plumage.x & ~1, plumage.y & ~1);
  const cv::Rect part(corner, plumage.br());
  cv::Mat3f sensor = out.light(part).clone();
  to_sensor_rgb(sensor);
  const SensorLevels levels = levels_for(burst.bits);
  t.jpeg = whites_of_developed(out.light(part), out.white_mask(part));
  t.raw = whites_of_mosaic(mosaic_of(sensor, levels), out.white_mask(part), levels);
  const Whites& kept = burst.format == Format::jpeg ? t.jpeg : t.raw;
  name_faults(t, *std::max_element(kept.clipped.begin(), kept.clipped.end()));
  return out;
}

Whites whites_of_mosaic(const cv::Mat1w& noise_free, const cv::Mat1b& mask, const SensorLevels& levels) {
  std::array<long, 3> all{0, 0, 0}, clipped{0, 0, 0};
  std::vector<float> values;
  for (int y = 0; y < noise_free.rows; ++y) {
    for (int x = 0; x < noise_free.cols; ++x) {
      if (mask(y, x) == 0) continue;
      const auto channel = static_cast<std::size_t>((y & 1) + (x & 1));
      ++all[channel];
      clipped[channel] += noise_free(y, x) >= levels.white ? 1 : 0;
      if (channel == 1) values.push_back(static_cast<float>(noise_free(y, x) - levels.black));
    }
  }
  Whites w;
  for (std::size_t c = 0; c < 3; ++c)
    w.clipped[c] = all[c] == 0 ? 0 : static_cast<double>(clipped[c]) / static_cast<double>(all[c]);
  // Green sees most of a neutral subject, so it clips first.
  w.headroom_ev = headroom(quantile(values, .995) / (levels.white - levels.black));
  return w;
}

Whites whites_of_developed(const cv::Mat3f& light, const cv::Mat1b& mask) {
  std::array<long, 3> clipped{0, 0, 0};
  long all = 0;
  std::vector<float> values;
  for (int y = 0; y < light.rows; ++y) {
    for (int x = 0; x < light.cols; ++x) {
      if (mask(y, x) == 0) continue;
      ++all;
      const cv::Vec3f& v = light(y, x);
      for (int c = 0; c < 3; ++c) clipped[static_cast<std::size_t>(c)] += v[c] >= 1 ? 1 : 0;
      values.push_back(std::max({v[0], v[1], v[2]}));
    }
  }
  Whites w;
  for (std::size_t c = 0; c < 3; ++c)
    w.clipped[c] = all == 0 ? 0 : static_cast<double>(clipped[c]) / static_cast<double>(all);
  w.headroom_ev = headroom(quantile(values, .995));
  return w;
}

SensorLevels levels_for(int bits) {
  return bits == 12 ? SensorLevels{12, 128, 3967} : SensorLevels{16, 512, 15871};
}

std::vector<FileBytes> photograph(const BurstSpec& burst, const FrameSpec& spec, RenderedFrame& frame) {
  const SensorLevels levels = levels_for(burst.bits);
  const NoiseModel noise = noise_at_iso(spec.iso);
  cv::Mat3f& sensor = frame.light;
  to_sensor_rgb(sensor);
  cv::Mat as_mat = sensor;
  add_sensor_noise(as_mat, noise, spec.seed);

  Exif exif;
  exif.make = burst.camera.make;
  exif.model = burst.camera.model;
  exif.serial = burst.camera.serial;
  exif.lens = burst.camera.lens;
  exif.utc_offset_minutes = 60;
  exif.local_time_ms = spec.time_ms + exif.utc_offset_minutes * 60000LL;
  exif.exposure_s = spec.exposure_s;
  exif.f_number = burst.camera.f_number;
  exif.iso = spec.iso;
  exif.focal_mm = burst.camera.focal_mm;
  exif.exposure_bias_ev = spec.exposure_ev;
  exif.orientation = burst.orientation;
  exif.width = sensor.cols;
  exif.height = sensor.rows;
  exif.subject_area = af_area(frame.truth, burst, sensor.size());

  const bool raw = burst.format != Format::jpeg;
  cv::Mat1w mosaic;
  if (raw || burst.demosaic) mosaic = mosaic_of(sensor, levels);
  if (burst.demosaic) {
    // RGGB is what OpenCV calls BayerBG: it names the second row's second and third sites.
    cv::Mat rgb16;
    cv::demosaicing(mosaic, rgb16, cv::COLOR_BayerBG2RGB_EA);
    rgb16.convertTo(as_mat, CV_32F, 1.0 / (levels.white - levels.black),
                    -static_cast<double>(levels.black) / (levels.white - levels.black));
    sensor = as_mat;
  }
  const cv::Mat3b bgr = developed(sensor, burst.rendering);
  const JpegOptions options{burst.quality, false};
  std::vector<FileBytes> files;
  if (raw) {
    DngImage dng;
    dng.mosaic = mosaic;
    dng.levels = levels;
    dng.noise = noise;
    cv::Mat3b preview = bgr;
    if (burst.preview_divisor > 1)
      cv::resize(bgr, preview, cv::Size(bgr.cols / burst.preview_divisor, bgr.rows / burst.preview_divisor),
                 0, 0, cv::INTER_AREA);
    dng.preview = encode_jpeg(preview, options, nullptr);
    dng.preview_width = preview.cols;
    dng.preview_height = preview.rows;
    files.push_back({spec.stem + ".DNG", encode_dng(dng, exif)});
  }
  if (burst.format != Format::dng) files.push_back({spec.stem + ".JPG", encode_jpeg(bgr, options, &exif)});
  return files;
}

double total_blur(const FrameTruth& t) {
  const bool counts = t.motion_of == "subject" || t.motion_of == "camera";
  return std::sqrt(t.blur_sigma_px * t.blur_sigma_px + (counts ? t.motion_px * t.motion_px / 12 : 0));
}

void choose_best(std::vector<FrameTruth>& frames) {
  const auto before = [](const FrameTruth& a, const FrameTruth& b) {
    const auto flaw = [](const FrameTruth& t) {
      const bool clipped = std::find(t.faults.begin(), t.faults.end(), "whites_clipped") != t.faults.end();
      return (t.ruined ? 2 : 0) + (clipped || t.cut_by_edge > 0 ? 1 : 0);
    };
    if (flaw(a) != flaw(b)) return flaw(a) < flaw(b);
    return total_blur(a) < total_blur(b);
  };
  std::map<std::string, FrameTruth*> best;
  for (FrameTruth& t : frames) {
    FrameTruth*& held = best[t.pose];
    if (held == nullptr || before(t, *held)) held = &t;
  }
  for (auto& [pose, t] : best) t->best_of_pose = true;
}

}  // namespace burstsieve::generate
