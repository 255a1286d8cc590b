#include "plan.h"

#include <cmath>
#include <cstdio>
#include <functional>

#include "random.h"

namespace burstsieve::generate {
namespace {

constexpr std::int64_t season_start_ms = 1776000000000;  // 2026-04-12 13:20 UTC

// A memory card: DCF file numbers 0001..9999, a new folder after 9999.
struct Card {
  Camera camera;
  std::string folder_name;  // five characters
  int folder = 100;
  int number = 1;

  std::string next() {
    char text[64];
    std::snprintf(text, sizeof text, "DCIM/%03d%s/%s_%04d", folder, folder_name.c_str(),
                  camera.prefix.c_str(), number);
    if (++number > 9999) number = 1, ++folder;
    return text;
  }
};

Card card_one(int number) {
  return {{"Saltmarsh Optics", "SO-1", "SM100417", "Saltmarsh 600mm f/5.6 T", "BSG", 600, 5.6},
          "SALTM",
          100,
          number};
}
Card card_two(int number) {
  return {{"Saltmarsh Optics", "SO-2", "SM200032", "Saltmarsh 400mm f/4 T", "MRS", 400, 4.0},
          "HARBR",
          100,
          number};
}

bool flies(Species s) {
  return s == Species::gull || s == Species::tern;
}

// Moves the bird so that its whole outline lies in the frame with a small margin.
void keep_inside(FrameSpec& f, cv::Size size) {
  const cv::Rect2d e = bird_extent(f.bird);
  const auto fit = [](double at, double low, double high, double side) {
    const double margin = .02 * side, lo = margin - low, hi = side - margin - high;
    return lo > hi ? .5 * (lo + hi) : std::clamp(at, lo, hi);
  };
  f.at.x = fit(f.at.x * size.width, e.x * f.scale, e.br().x * f.scale, size.width) / size.width;
  f.at.y = fit(f.at.y * size.height, e.y * f.scale, e.br().y * f.scale, size.height) / size.height;
}

// Moves the bird so that `share` of its width lies outside the frame on the side its tail or head points to.
void push_out(FrameSpec& f, cv::Size size, double share, bool right) {
  const cv::Rect2d e = bird_extent(f.bird);
  const double x =
      right ? size.width - (e.x + (1 - share) * e.width) * f.scale : -(e.x + share * e.width) * f.scale;
  f.at.x = x / size.width;
}

struct Outing {
  Species species = Species::gull;
  Scene scene = Scene::harbour_water;
  std::string name;
  int frames = 8;
  cv::Size size{900, 600};
  double fraction = .45;  // bird's width, of the frame's
  bool faces_left = false;
  int iso = 800;
  std::int64_t start_ms = 0;
  int interval_ms = 50;
  std::vector<Pose> poses;  // repeated
};

BurstSpec make_burst(const Outing& o, Card& card, std::uint64_t seed) {
  Random r(derive(seed, 1));
  BurstSpec b;
  b.name = o.name;
  b.camera = card.camera;
  b.scene = o.scene;
  b.size = o.size;
  b.seed = static_cast<std::uint32_t>(derive(seed, 2) >> 33);
  b.backdrop_sigma = r.uniform(6, 14) * o.size.width / 1000;
  BirdPose bird;
  bird.species = o.species;
  bird.faces_left = o.faces_left;
  bird.yaw_deg = r.uniform(8, 24);
  bird.elevation_deg = flies(o.species) ? r.uniform(2, 9) : r.uniform(2, 6);
  bird.roll_deg = flies(o.species) ? r.uniform(8, 16) : 0;
  bird.pitch_deg = flies(o.species) ? r.uniform(0, 6) : 0;
  bird.seed = static_cast<std::uint32_t>(derive(seed, 3) >> 33);
  bird.pose = o.poses.front();
  const cv::Rect2d e = bird_extent(bird);
  double scale = o.fraction * o.size.width / e.width;
  if (!flies(o.species)) scale = std::min(scale, .86 * o.size.height / e.height);
  const double run =
      flies(o.species) ? r.uniform(.10, .25) : r.uniform(0, .03);  // across the frame in a burst
  const double direction = o.faces_left ? -1 : 1, pan = flies(o.species) ? r.uniform(.05, .14) : .004;
  const double height = flies(o.species) ? r.uniform(.46, .58) : .52;
  const double rise = r.uniform(-.05, .05), bob = r.uniform(0, 6.28);
  const double exposure_s = 1.0 / (flies(o.species) ? 2500 : 1250);
  for (int i = 0; i < o.frames; ++i) {
    const double t = o.frames > 1 ? static_cast<double>(i) / (o.frames - 1) : .5;
    FrameSpec f;
    f.bird = bird;
    f.bird.pose = o.poses[static_cast<std::size_t>(i) % o.poses.size()];
    f.bird.flap_offset_deg = r.uniform(-4, 4);
    f.bird.roll_deg += r.uniform(-1.5, 1.5);
    f.bird.yaw_deg += r.uniform(-1, 1) + 3 * t;
    f.bird.pitch_deg += r.uniform(-1, 1);
    f.scale = scale * (1 + .05 * t);
    f.at = {.5 + direction * run * (t - .5) + r.uniform(-.008, .008),
            height + rise * (t - .5) +
                (flies(o.species) ? .012 * std::sin(bob + 2.1 * i) : .002 * std::sin(bob + i))};
    f.shift_x = direction * pan * i;
    f.lens_sigma = r.uniform(.56, .70);
    f.iso = o.iso;
    f.exposure_s = exposure_s;
    f.time_ms = o.start_ms + static_cast<std::int64_t>(i) * o.interval_ms;
    f.seed = derive(seed, 1000 + static_cast<std::uint64_t>(i));
    f.stem = card.next();
    keep_inside(f, o.size);
    b.frames.push_back(f);
  }
  return b;
}

const std::vector<Pose> wing_beat{Pose::up, Pose::level, Pose::down, Pose::level};
const std::vector<Pose> standing{Pose::perched, Pose::perched, Pose::feeding, Pose::perched};

void motion(FrameSpec& f, MotionOf of, double px, double deg) {
  f.motion_of = of;
  f.motion_px = px;
  f.motion_deg = deg;
  if (of != MotionOf::none) f.exposure_s = 1.0 / 500;
}

std::vector<BurstSpec> sample_set(std::uint64_t seed) {
  Card one = card_one(9995), two = card_two(212);
  std::vector<BurstSpec> out;
  {  // wing beat over the harbour; the card's counter rolls over in the middle
    Outing o{Species::gull,   Scene::harbour_wall,
             "harbour-gull",  9,
             {1350, 900},     .50,
             false,           800,
             season_start_ms, 50,
             wing_beat};
    BurstSpec b = make_burst(o, one, derive(seed, 11));
    motion(b.frames[2], MotionOf::subject, 9, 62);
    b.frames[3].defocus_sigma = 2.6;
    b.frames[4].defocus_sigma = 1.2;
    b.frames[5].bird.wing_over_head = true;
    motion(b.frames[8], MotionOf::subject, 13, -35);
    out.push_back(b);
  }
  {  // exposure steps on the marsh, second camera, while the first is still shooting
    Outing o{Species::avocet,
             Scene::marsh_water,
             "marsh-avocet",
             4,
             {900, 600},
             .47,
             true,
             400,
             season_start_ms + 130,
             70,
             {Pose::perched, Pose::perched, Pose::perched, Pose::feeding}};
    BurstSpec b = make_burst(o, two, derive(seed, 12));
    b.format = Format::dng;
    b.bits = 12;
    b.quality = 85;
    b.frames[0].exposure_ev = .85;
    b.frames[1].exposure_ev = .15;
    b.frames[2].exposure_ev = 1.4;
    out.push_back(b);
  }
  {
    Outing o{Species::tern,
             Scene::marsh_grass,
             "tern-missed-focus",
             7,
             {1350, 900},
             .46,
             true,
             1250,
             season_start_ms + 4200,
             50,
             {Pose::up, Pose::down}};
    BurstSpec b = make_burst(o, one, derive(seed, 13));
    b.reeds = 16;
    b.frames[1].focus_on = FocusOn::background, b.frames[1].defocus_sigma = 3.4;
    b.frames[2].focus_on = FocusOn::background, b.frames[2].defocus_sigma = 2.9;
    b.frames[4].focus_on = FocusOn::foreground, b.frames[4].defocus_sigma = 4.0;
    b.frames[5].defocus_sigma = 1.1;
    out.push_back(b);
  }
  {
    Outing o{Species::egret,
             Scene::marsh_water,
             "egret-pair",
             3,
             {720, 480},
             .45,
             false,
             640,
             season_start_ms + 4350,
             80,
             {Pose::perched}};
    BurstSpec b = make_burst(o, two, derive(seed, 14));
    b.format = Format::pair;
    b.bits = 12;
    b.quality = 85;
    b.preview_divisor = 2;
    b.frames[0].defocus_sigma = 1.6;
    b.frames[2].exposure_ev = .9;
    out.push_back(b);
  }
  {
    Outing o{Species::gull,
             Scene::harbour_water,
             "gull-pan-and-shake",
             7,
             {1350, 900},
             .44,
             true,
             500,
             season_start_ms + 9000,
             60,
             {Pose::level, Pose::down}};
    BurstSpec b = make_burst(o, one, derive(seed, 15));
    motion(b.frames[1], MotionOf::camera, 11, 24);
    motion(b.frames[2], MotionOf::camera, 7.5, 80);
    motion(b.frames[3], MotionOf::pan, 26, 2);
    motion(b.frames[4], MotionOf::pan, 32, 2);
    push_out(b.frames[6], b.size, .38, false);
    out.push_back(b);
  }
  return out;
}

// One fault drawn for a frame; most frames of a burst stay good.
void random_fault(FrameSpec& f, cv::Size size, bool reeds, Random& r) {
  switch (r.below(8)) {
    case 0:
      f.defocus_sigma = r.uniform(.8, 3.5);
      break;
    case 1:
      f.focus_on = reeds && r.chance(.4) ? FocusOn::foreground : FocusOn::background;
      f.defocus_sigma = r.uniform(2.3, 4.5);
      break;
    case 2:
      motion(f, MotionOf::subject, r.uniform(3, 18), r.uniform(-90, 90));
      break;
    case 3:
      motion(f, MotionOf::camera, r.uniform(3, 18), r.uniform(-90, 90));
      break;
    case 4:
      motion(f, MotionOf::pan, r.uniform(10, 36), r.uniform(-8, 8));
      break;
    case 5:
      f.exposure_ev += r.uniform(.6, 1.8);
      break;
    case 6:
      push_out(f, size, r.uniform(.15, .5), r.chance(.5));
      break;
    default:
      if (flies(f.bird.species)) {
        f.bird.wing_over_head = true;
      } else {
        f.exposure_ev -= r.uniform(.5, 2);
      }
  }
}

std::vector<BurstSpec> season_set(const PlanOptions& options) {
  Card one = card_one(9941), two = card_two(1);
  std::vector<BurstSpec> out;
  const int bursts = options.bursts > 0 ? options.bursts : 200;
  const cv::Size size{options.width > 0 ? options.width : 900, options.height > 0 ? options.height : 600};
  std::int64_t clock = season_start_ms;
  const Species kinds[] = {Species::gull, Species::gull, Species::tern, Species::avocet, Species::egret};
  for (int i = 0; i < bursts; ++i) {
    const std::uint64_t seed = derive(options.seed, 5000 + static_cast<std::uint64_t>(i));
    Random r(seed);
    Outing o;
    o.species = kinds[r.below(5)];
    const bool flying = flies(o.species);
    o.poses = wing_beat;
    if (!flying) o.poses = standing;
    if (o.species == Species::gull && r.chance(.2)) o.poses = {Pose::perched};
    const bool perched = o.poses.front() == Pose::perched;
    o.scene = flying          ? static_cast<Scene>(r.below(5))
              : r.chance(.75) ? Scene::marsh_water
                              : Scene::marsh_grass;
    if (flying && perched) o.scene = Scene::harbour_wall;
    char name[64];
    std::snprintf(name, sizeof name, "%04d-%s", i + 1, name_of(o.species));
    o.name = name;
    o.frames = options.frames > 0 ? options.frames : 4 + r.below(7);
    o.size = size;
    o.fraction = r.uniform(.34, .52);
    o.faces_left = r.chance(.5);
    const int isos[] = {200, 400, 640, 800, 1250, 1600, 3200, 6400};
    o.iso = isos[r.below(8)];
    clock += 900 + r.below(20000);
    o.start_ms = clock;
    o.interval_ms = r.chance(.5) ? 50 : 33;
    BurstSpec b = make_burst(o, r.chance(.6) ? one : two, derive(seed, 9));
    if (r.chance(.25)) b.reeds = 6 + r.below(14);
    const double base_ev = r.uniform(-.5, .25);
    const double fault_share = r.uniform(.15, .6);
    for (FrameSpec& f : b.frames) {
      f.exposure_ev = base_ev;
      if (r.chance(fault_share)) random_fault(f, size, b.reeds > 0, r);
    }
    clock = b.frames.back().time_ms;
    const double pick = r.uniform();
    b.format = pick < .8 ? Format::jpeg : pick < .9 ? Format::dng : Format::pair;
    if (r.chance(.12)) b.orientation = 3;
    out.push_back(std::move(b));
  }
  return out;
}

std::vector<BurstSpec> bench_set(const PlanOptions& options) {
  Card one = card_one(1);
  std::vector<BurstSpec> out;
  const int bursts = options.bursts > 0 ? options.bursts : 2,
            frames = options.frames > 0 ? options.frames : 6;
  const cv::Size size{options.width > 0 ? options.width : 6000, options.height > 0 ? options.height : 4000};
  for (int i = 0; i < bursts; ++i) {
    const std::uint64_t seed = derive(options.seed, 7000 + static_cast<std::uint64_t>(i));
    const bool gull = i % 2 == 0;
    Outing o{gull ? Species::gull : Species::avocet,
             gull ? Scene::harbour_water : Scene::marsh_water,
             gull ? "bench-gull-" + std::to_string(i + 1) : "bench-avocet-" + std::to_string(i + 1),
             frames,
             size,
             .42,
             false,
             3200,
             season_start_ms + i * 20000,
             50,
             gull ? wing_beat : standing};
    BurstSpec b = make_burst(o, one, seed);
    b.format = gull ? Format::jpeg : Format::dng;
    b.quality = 96;
    b.backdrop_sigma = 12;
    for (std::size_t k = 0; k < b.frames.size(); ++k) {
      b.frames[k].lens_sigma += .25;  // small pixels: the lens resolves less per pixel
      if (k % 3 == 1) b.frames[k].defocus_sigma = 1.5 + static_cast<double>(k % 5);
    }
    out.push_back(std::move(b));
  }
  return out;
}

// A ladder per fault: everything else stays as it is.
std::vector<BurstSpec> fault_set(const PlanOptions& options) {
  Card one = card_one(1);
  std::vector<BurstSpec> out;
  const cv::Size size{options.width > 0 ? options.width : 900, options.height > 0 ? options.height : 600};
  std::int64_t clock = season_start_ms;
  const auto ladder = [&](const std::string& name, Species species, Scene scene, std::vector<double> steps,
                          const std::function<void(FrameSpec&, double)>& change) {
    Outing o{species,
             scene,
             name,
             static_cast<int>(steps.size()),
             size,
             .42,
             false,
             800,
             clock,
             50,
             {flies(species) ? Pose::down : Pose::perched}};
    clock += 10000;
    BurstSpec b = make_burst(o, one, derive(options.seed, 9000 + out.size()));
    for (std::size_t i = 0; i < steps.size(); ++i) {
      b.frames[i].lens_sigma = .63;
      change(b.frames[i], steps[i]);
    }
    if (name == "foreground-focus") b.reeds = 14;
    out.push_back(std::move(b));
  };
  using S = Species;
  ladder("defocus", S::gull, Scene::harbour_water, {0, .4, .8, 1.2, 1.6, 2.2, 3, 4},
         [](FrameSpec& f, double v) { f.defocus_sigma = v; });
  ladder("background-focus", S::tern, Scene::marsh_grass, {0, 1.5, 2.5, 3.5}, [](FrameSpec& f, double v) {
    f.defocus_sigma = v;
    if (v > 0) f.focus_on = FocusOn::background;
  });
  ladder("foreground-focus", S::tern, Scene::marsh_grass, {0, 1.5, 2.5, 3.5}, [](FrameSpec& f, double v) {
    f.defocus_sigma = v;
    if (v > 0) f.focus_on = FocusOn::foreground;
  });
  for (double deg : {0.0, 35.0, -60.0}) {
    ladder("subject-motion" + std::to_string(static_cast<int>(deg)), S::gull, Scene::harbour_wall,
           {0, 2, 4, 7, 11, 16}, [deg](FrameSpec& f, double v) {
             motion(f, v > 0 ? MotionOf::subject : MotionOf::none, v, v > 0 ? deg : 0);
           });
  }
  ladder("camera-shake", S::gull, Scene::harbour_wall, {0, 2, 4, 7, 11, 16}, [](FrameSpec& f, double v) {
    motion(f, v > 0 ? MotionOf::camera : MotionOf::none, v, v > 0 ? 25 : 0);
  });
  ladder("panning", S::gull, Scene::harbour_wall, {0, 8, 16, 32},
         [](FrameSpec& f, double v) { motion(f, v > 0 ? MotionOf::pan : MotionOf::none, v, 0); });
  ladder("exposure", S::egret, Scene::marsh_water, {-2, -1, 0, .4, .7, 1, 1.5, 2},
         [](FrameSpec& f, double v) { f.exposure_ev = v; });
  out.back().format = Format::pair;
  ladder("cut", S::gull, Scene::sky, {0, .1, .25, .4, .6}, [size](FrameSpec& f, double v) {
    if (v > 0) push_out(f, size, v, true);
  });
  ladder("head-hidden", S::gull, Scene::sky, {0, 1},
         [](FrameSpec& f, double v) { f.bird.wing_over_head = v > 0; });
  ladder("iso", S::avocet, Scene::marsh_grass, {100, 400, 1600, 6400, 12800, 25600},
         [](FrameSpec& f, double v) { f.iso = static_cast<int>(v); });
  ladder("upside-down", S::gull, Scene::harbour_water, {0, 2.5},
         [](FrameSpec& f, double v) { f.defocus_sigma = v; });
  out.back().orientation = 3;
  ladder("turned-right", S::gull, Scene::harbour_water, {0, 2.5},
         [](FrameSpec& f, double v) { f.defocus_sigma = v; });
  out.back().orientation = 6;
  ladder("turned-left", S::gull, Scene::harbour_water, {0, 2.5},
         [](FrameSpec& f, double v) { f.defocus_sigma = v; });
  out.back().orientation = 8;
  return out;
}

// Subject with reeds before and behind it, each at its own distance: blur grows with the difference of the
// inverse distances (thin lens), here counted in px of defocus from the subject's plane. Six frames a burst:
// the plane of focus on the subject three times (once with the nearer reeds in the same plane), before it
// twice and behind it once, or the other way round.
std::vector<BurstSpec> depth_set(const PlanOptions& options) {
  Card one = card_one(1);
  std::vector<BurstSpec> out;
  const int bursts = options.bursts > 0 ? options.bursts : 50;
  const cv::Size size{options.width > 0 ? options.width : 900, options.height > 0 ? options.height : 600};
  const Species kinds[] = {Species::gull, Species::tern, Species::avocet, Species::egret};
  for (int i = 0; i < bursts; ++i) {
    const std::uint64_t seed = derive(options.seed, 11000 + static_cast<std::uint64_t>(i));
    Random r(seed);
    Outing o;
    o.species = kinds[r.below(4)];
    o.poses = flies(o.species) ? wing_beat : standing;
    o.scene = static_cast<Scene>(r.below(5));
    if (!flies(o.species)) o.scene = r.chance(.5) ? Scene::marsh_water : Scene::marsh_grass;
    o.name = "depth-" + std::to_string(i + 1);
    o.frames = 6;
    o.size = size;
    o.fraction = r.uniform(.30, .5);
    o.faces_left = r.chance(.5);
    const int isos[] = {200, 800, 1600, 3200};
    o.iso = isos[r.below(4)];
    o.start_ms = season_start_ms + i * 60000LL;
    BurstSpec b = make_burst(o, one, derive(seed, 9));
    b.reeds = 6 + r.below(14);
    b.reeds_height = r.uniform(.25, .6);
    // A sky has nothing in it to be sharp.
    b.reeds_behind = o.scene == Scene::sky || r.chance(.6) ? 12 + r.below(20) : 0;
    b.reeds_behind_height = r.uniform(.45, .9);
    // Level ground rises in the picture with distance: what is behind a standing bird stands above its feet.
    b.reeds_behind_root = r.uniform(.10, .25);
    for (const FrameSpec& f : b.frames)
      if (!flies(f.bird.species))
        b.reeds_behind_root =
            std::max(b.reeds_behind_root, 1.05 - f.at.y - bird_extent(f.bird).br().y * f.scale / size.height);
    const bool mostly_before = r.chance(.5);
    for (std::size_t k = 0; k < b.frames.size(); ++k) {
      FrameSpec& f = b.frames[k];
      f.focus_on = k < 3    ? FocusOn::subject
                   : k == 3 ? (mostly_before ? FocusOn::background : FocusOn::foreground)
                            : (mostly_before ? FocusOn::foreground : FocusOn::background);
      const double near = k == 2 ? r.uniform(0, .3) : r.uniform(2.4, 5), far = r.uniform(2.4, 5),
                   farther = far + r.uniform(2, 6);
      const double focus = f.focus_on == FocusOn::foreground   ? near
                           : f.focus_on == FocusOn::background ? (b.reeds_behind ? -far : -farther)
                                                               : 0;
      const auto at = [&](double place) { return std::hypot(f.lens_sigma, place - focus); };
      f.depth = DepthBlur{at(near), at(-far), at(-farther)};
      f.defocus_sigma = std::abs(focus);
    }
    out.push_back(std::move(b));
  }
  return out;
}

// What the frame shows of the bird, in fractions of the frame; reaches outside where the frame cuts it.
cv::Rect2d box_of(const BirdPose& bird, V2 at, double scale, cv::Size size) {
  const cv::Rect2d e = bird_extent(bird);
  return {at.x + e.x * scale / size.width, at.y + e.y * scale / size.height, e.width * scale / size.width,
          e.height * scale / size.height};
}

bool clear_of(const cv::Rect2d& box, const std::vector<cv::Rect2d>& placed) {
  constexpr double kGap = .02;
  const cv::Rect2d wide(box.x - kGap, box.y - kGap, box.width + 2 * kGap, box.height + 2 * kGap);
  for (const cv::Rect2d& p : placed)
    if ((wide & p).area() > 0) return false;
  return true;
}

// A place for a bird `width` of the frame wide that keeps clear of the others; the frame's edge may cut up to
// 45 % of it. Nothing after 200 tries.
std::optional<OtherBird> placed_bird(BirdPose bird, double width, bool cut, cv::Size size,
                                     const std::vector<cv::Rect2d>& placed, Random& r) {
  OtherBird out;
  out.bird = bird;
  const cv::Rect2d e = bird_extent(bird);
  for (int i = 0; i < 200; ++i) {
    out.scale = width * (1 - .002 * i) * size.width / e.width;
    const double w = e.width * out.scale / size.width, h = e.height * out.scale / size.height;
    double x = r.uniform(.02, std::max(.03, .98 - w)), y = r.uniform(.02, std::max(.03, .98 - h));
    const double outside = r.uniform(.2, .45);
    const int side = r.below(3);
    if (cut && side == 0) x = -outside * w;
    if (cut && side == 1) x = 1 - (1 - outside) * w;
    if (cut && side == 2) y = -outside * h;
    out.at = {x - e.x * out.scale / size.width, y - e.y * out.scale / size.height};
    if (clear_of({x, y, w, h}, placed)) return out;
  }
  return std::nullopt;
}

// Two or three birds at different distances, apart in the frame. Four frames a burst: the plane of focus on
// each bird in turn, and once between all of them; in every fifth frame all stand in one plane. Sizes follow
// the distances. In every third frame the edge cuts the last bird.
std::vector<BurstSpec> several_set(const PlanOptions& options) {
  Card one = card_one(1);
  std::vector<BurstSpec> out;
  const int bursts = options.bursts > 0 ? options.bursts : 50;
  const cv::Size size{options.width > 0 ? options.width : 900, options.height > 0 ? options.height : 600};
  const Species kinds[] = {Species::gull, Species::tern, Species::avocet, Species::egret};
  for (int i = 0; i < bursts; ++i) {
    const std::uint64_t seed = derive(options.seed, 13000 + static_cast<std::uint64_t>(i));
    Random r(seed);
    Outing o;
    o.species = kinds[r.below(4)];
    o.poses = flies(o.species) ? wing_beat : standing;
    // Not on water: reflections are the main bird's only.
    const Scene scenes[] = {Scene::harbour_water, Scene::harbour_wall, Scene::marsh_grass, Scene::sky};
    o.scene = flies(o.species) ? scenes[r.below(4)] : Scene::marsh_grass;
    o.name = "several-" + std::to_string(i + 1);
    o.frames = 4;
    o.size = size;
    o.fraction = flies(o.species) ? r.uniform(.3, .4) : r.uniform(.22, .3);
    o.faces_left = r.chance(.5);
    const int isos[] = {200, 800, 1600, 3200};
    o.iso = isos[r.below(4)];
    o.start_ms = season_start_ms + i * 60000LL;
    BurstSpec b = make_burst(o, one, derive(seed, 9));
    const int birds = 2 + r.below(2);
    for (std::size_t k = 0; k < b.frames.size(); ++k) {
      FrameSpec& f = b.frames[k];
      // Inverse distances: the main bird's is 0, nearer is more.
      std::vector<double> depth{0};
      for (int n = 1; n < birds; ++n) depth.push_back(r.uniform(-1, 1));
      const bool one_plane = (static_cast<std::size_t>(i) * 4 + k) % 5 == 4;
      if (one_plane) depth.assign(depth.size(), 0);
      const double focus = k < depth.size() ? depth[k] : r.uniform(-.5, .5) * (one_plane ? 0 : 1);
      const auto defocus = [&](double at) { return 4.5 * std::abs(at - focus); };
      f.at = {r.uniform(.3, .7), r.uniform(.35, .65)};
      keep_inside(f, size);
      f.defocus_sigma = defocus(0);
      std::vector<cv::Rect2d> placed{box_of(f.bird, f.at, f.scale, size)};
      for (std::size_t n = 1; n < depth.size(); ++n) {
        BirdPose bird = f.bird;
        bird.pose = o.poses[static_cast<std::size_t>(r.below(4)) % o.poses.size()];
        bird.faces_left = r.chance(.7) ? o.faces_left : !o.faces_left;
        bird.seed += 101 * static_cast<std::uint32_t>(n);
        const bool cut = n + 1 == depth.size() && (static_cast<std::size_t>(i) + k) % 3 == 0;
        auto other = placed_bird(bird, o.fraction * (.85 + .2 * depth[n]), cut, size, placed, r);
        if (!other) continue;
        other->defocus_sigma = defocus(depth[n]);
        placed.push_back(box_of(bird, other->at, other->scale, size));
        f.others.push_back(*other);
      }
    }
    out.push_back(std::move(b));
  }
  return out;
}

}  // namespace

const char* name_of(MotionOf motion_of) {
  switch (motion_of) {
    case MotionOf::none:
      return "none";
    case MotionOf::subject:
      return "subject";
    case MotionOf::camera:
      return "camera";
    case MotionOf::pan:
      return "pan";
  }
  return "";
}

const char* name_of(FocusOn focus) {
  switch (focus) {
    case FocusOn::subject:
      return "subject";
    case FocusOn::background:
      return "background";
    case FocusOn::foreground:
      return "foreground";
  }
  return "";
}

std::vector<BurstSpec> plan(const PlanOptions& options) {
  std::vector<BurstSpec> out;
  if (options.set == "sample") {
    out = sample_set(options.seed);
    for (BurstSpec& b : out) b.supersample = 2;
  }
  if (options.set == "season") out = season_set(options);
  if (options.set == "bench") out = bench_set(options);
  if (options.set == "faults") out = fault_set(options);
  if (options.set == "depth") out = depth_set(options);
  if (options.set == "several") out = several_set(options);
  for (BurstSpec& b : out) {
    if (options.format_given) b.format = options.format;
    b.demosaic = options.demosaic;
  }
  return out;
}

}  // namespace burstsieve::generate
