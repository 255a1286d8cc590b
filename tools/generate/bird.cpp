#include "bird.h"

#include <functional>
#include <opencv2/core/utility.hpp>
#include <variant>

#include "random.h"
#include "species.h"

namespace burstsieve::generate {
namespace {

struct Disc {
  V2 at;
  double rx, ry;
  V3 radiance;
  double alpha;
  Part part;
};
using Item = std::variant<Feather, Stroke, Disc>;

// Bird space to pixels and to camera-space normals.
struct View {
  V3 right, up, near;  // rows: camera axes in bird space
  V2 centre;
  double scale;

  V2 point(V3 p) const { return {centre.x + scale * dot(p, right), centre.y - scale * dot(p, up)}; }
  V2 vector(V3 d) const { return {scale * dot(d, right), -scale * dot(d, up)}; }
  V3 normal(V3 n) const { return {dot(n, right), dot(n, up), dot(n, near)}; }
  V3 light(V3 n) const { return irradiance(normal(n)); }
};

View view_of(const BirdPose& pose, V2 centre, double scale) {
  const double yaw = radians(pose.yaw_deg), pitch = radians(pose.pitch_deg), roll = radians(pose.roll_deg),
               elevation = radians(pose.elevation_deg);
  const auto to_bird = [&](V3 w) {  // inverse of yaw * pitch * roll
    const V3 a{std::cos(yaw) * w.x + std::sin(yaw) * w.z, w.y, -std::sin(yaw) * w.x + std::cos(yaw) * w.z};
    const V3 b{std::cos(pitch) * a.x + std::sin(pitch) * a.y, -std::sin(pitch) * a.x + std::cos(pitch) * a.y,
               a.z};
    return V3{b.x, std::cos(roll) * b.y + std::sin(roll) * b.z, -std::sin(roll) * b.y + std::cos(roll) * b.z};
  };
  View v{to_bird({1, 0, 0}), to_bird({0, std::cos(elevation), -std::sin(elevation)}),
         to_bird({0, std::sin(elevation), std::cos(elevation)}), centre, scale};
  if (pose.faces_left) v.right = -1.0 * v.right;
  return v;
}

class Builder {
 public:
  Builder(const BirdPose& pose, const View& view)
      : pose_(pose), view_(view), form_(form_of(pose.species, pose.pose)), random_(derive(pose.seed, 77)) {
    near_side_ = view.near.z >= 0 ? 1 : -1;
  }

  void build() {
    const bool stands = pose_.pose == Pose::perched || pose_.pose == Pose::feeding;
    if (!stands) wing(-near_side_);
    tail();
    if (stands) legs();
    body();
    bill();
    eye();
    if (stands) {
      folded_wing();
    } else {
      wing(near_side_);
    }
  }

  std::vector<Item> items;
  V2 head;
  double head_radius = 0;
  V2 eye_at;
  double eye_radius = 0;

 private:
  struct Look {
    V3 colour, tip_colour;
    double tip_from = 2;
    double half = .02;
    double round_from = .7;
    double curve = 0;
    double contrast = .07;
    double shadow = .3;
    double root_shade = .80;
    Part part = Part::body;
  };

  // A feather from `base` to `tip` lying in the surface with normal `n`.
  void feather(V3 base, V3 tip, V3 n, const Look& look) {
    const V3 axis = tip - base;
    const V3 facing = dot(n, view_.near) < 0 ? -1.0 * n : n;
    const V3 across = unit(cross(facing, axis));
    Feather f;
    f.base = view_.point(base);
    f.axis = view_.vector(axis);
    f.across = view_.vector(look.half * across);
    f.length = length(axis);
    f.half = look.half;
    f.curve = look.curve;
    f.round_from = look.round_from;
    const double vary = random_.uniform(.96, 1.03);
    // A thin vane lit from behind glows: some of the far side's light comes through.
    const V3 light = vary * (.85 * view_.light(facing) + .15 * view_.light(-1.0 * facing));
    f.light_base = light;
    f.light_tip = light;
    f.colour = look.colour;
    f.tip_colour = look.tip_colour;
    f.tip_from = look.tip_from;
    f.barb_contrast = look.contrast;
    f.shadow = look.shadow;
    f.root_shade = look.root_shade;
    f.seed = static_cast<std::uint32_t>(random_.bits() >> 33);
    f.part = look.part;
    items.emplace_back(f);
  }

  void stroke(const std::vector<V3>& path, const std::vector<double>& radii, const std::vector<V3>& colours,
              double sheen, double texture, Part part) {
    Stroke s;
    for (std::size_t i = 0; i < path.size(); ++i)
      s.points.push_back({view_.point(path[i]), radii[i] * view_.scale, colours[i]});
    s.sheen = sheen;
    s.texture = texture;
    s.seed = static_cast<std::uint32_t>(random_.bits() >> 33);
    s.part = part;
    items.emplace_back(std::move(s));
  }

  void body() {
    const auto& spine = form_.spine;
    const Ring head_ring = spine[form_.head_ring];
    const V3 head_centre{head_ring.x, head_ring.y, 0};
    const Ring bill_root = form_.bill.front(), bill_end = form_.bill[1];
    const V3 bill_line = unit({bill_end.x - bill_root.x, bill_end.y - bill_root.y, 0});
    const V3 bill_up{-bill_line.y, bill_line.x, 0};
    head = view_.point(head_centre);
    head_radius = head_ring.r * 1.15 * view_.scale;

    std::vector<V3> path, colours;
    std::vector<double> radii;
    for (int i = 0; i <= 28; ++i) {
      const Ring r = spine_at(spine, i / 28.0);
      path.push_back({r.x, r.y, 0});
      radii.push_back(r.r * .97);
      colours.push_back(.8 * white_feather);
    }
    stroke(path, radii, colours, 0, .03, Part::body);

    double total = 0;
    for (std::size_t i = 1; i < path.size(); ++i) total += length(path[i] - path[i - 1]);
    double a = .01;
    int row = 0;
    while (a < .995) {
      const Ring c = spine_at(spine, a);
      const Ring ahead = spine_at(spine, a + .02), behind = spine_at(spine, a - .02);
      const V3 tangent = unit({ahead.x - behind.x, ahead.y - behind.y, 0});
      const bool neck = a > form_.neck_from;
      const double fine = std::clamp(c.r / .125, .30, 1.0) * (neck ? .62 : 1);
      const double step = .023 * fine, len = .064 * fine, half = .0195 * fine;
      const V3 u{-tangent.y, tangent.x, 0}, v{0, 0, 1};
      const int around = std::max(8, static_cast<int>(6.2831853 * c.r / (1.45 * half)));
      struct Spot {
        double facing, angle;
      };
      std::vector<Spot> spots;
      for (int k = 0; k < around; ++k) {
        const double angle = 6.283185307179586 * (k + .5 * (row & 1) + random_.uniform(-.22, .22)) / around;
        const V3 n = std::cos(angle) * u + std::sin(angle) * v;
        const double facing = dot(n, view_.near);
        if (facing > .01) spots.push_back({facing, angle});
      }
      std::stable_sort(spots.begin(), spots.end(),
                       [](const Spot& p, const Spot& q) { return p.facing < q.facing; });
      for (const Spot& spot : spots) {
        const V3 n = std::cos(spot.angle) * u + std::sin(spot.angle) * v;
        const V3 base = V3{c.x, c.y, 0} + (c.r * .985) * n;
        const double back = a - len * random_.uniform(.8, 1.2) / total;
        const Ring b = spine_at(spine, back);
        V3 tip = V3{b.x, b.y, 0} + (b.r * 1.03) * n;
        if (back < 0) tip = base - len * tangent;
        const V3 rel = base - head_centre;
        const V3 from_head{dot(rel, bill_line) / head_ring.r, dot(rel, bill_up) / head_ring.r,
                           rel.z / head_ring.r};
        const bool on_head = std::hypot(from_head.x, from_head.y) < 1.25 && neck;
        Look look;
        look.colour = body_colour(pose_.species, a, n.y, on_head, from_head);
        const bool dark = look.colour.y < .1;
        look.half = half;
        look.round_from = .45;
        look.contrast = dark ? .16 : neck ? .075 : .070;
        look.shadow = dark ? .1 : neck ? .02 : .045;
        look.root_shade = dark ? .8 : neck ? .975 : .94;
        look.curve = random_.uniform(-.35, .35);
        look.part = on_head ? Part::head : Part::body;
        feather(base, tip, n, look);
      }
      a += step / total;
      ++row;
    }
  }

  void tail() {
    const Ring root = spine_at(form_.spine, .06);
    const int count = 12;
    for (int k = 0; k < count; ++k) {
      // Outer feathers first, the central pair on top.
      const int pair = k / 2, side = k % 2 == 0 ? 1 : -1;
      const double out = 1 - pair / 5.5;
      const double angle = radians(form_.tail_spread_deg) * out * side;
      const double len = form_.tail_length * (1 - form_.tail_fork * (1 - out));
      const V3 base{root.x + .05, root.y + .01, .03 * out * side};
      // The fan is rolled towards the camera, or it would be seen edge-on.
      const double wide = len * std::sin(angle), tilt = .22 * near_side_;
      const V3 tip = base + V3{-len * std::cos(angle), -.02 - .004 * pair - tilt * wide, wide};
      Look look;
      look.colour = white_feather;
      look.half = pose_.species == Species::tern ? .016 + .012 * (1 - out) : .034;
      look.round_from = pose_.species == Species::tern ? .25 : .86;
      look.contrast = .06;
      look.shadow = .22;
      feather(base, tip, unit({.1, 1, tilt + .2 * out * side}), look);
    }
  }

  void bill() {
    std::vector<V3> path, colours;
    std::vector<double> radii;
    for (int i = 0; i <= 14; ++i) {
      const Ring r = spine_at(form_.bill, i / 14.0);
      path.push_back({r.x, r.y, 0});
      radii.push_back(std::max(.002, r.r));
      V3 colour = mix(form_.bill_colour, form_.bill_tip, smooth(.72, .92, i / 14.0));
      if (pose_.species == Species::gull)
        colour = mix(form_.bill_colour, {.55, .06, .03},
                     .55 * smooth(.5, .68, i / 14.0) * (1 - smooth(.8, .95, i / 14.0)));
      colours.push_back(colour);
    }
    stroke(path, radii, colours, .16, .05, Part::bill);
    // The gape: a dark line between the mandibles, and a nostril.
    std::vector<V3> gape, dark;
    std::vector<double> thin;
    for (int i = 0; i <= 8; ++i) {
      const Ring r = spine_at(form_.bill, i / 8.0 * .8);
      gape.push_back(
          {r.x - (i == 0 ? .03 : 0), r.y - .18 * r.r - (i == 0 ? .004 : 0), near_side_ * r.r * .9});
      thin.push_back(std::max(.0010, r.r * .07));
      dark.push_back(.25 * form_.bill_colour);
    }
    stroke(gape, thin, dark, 0, 0, Part::bill);
    const Ring a = spine_at(form_.bill, .26), b = spine_at(form_.bill, .38);
    stroke({{a.x, a.y + .35 * a.r, near_side_ * a.r * .8}, {b.x, b.y + .3 * b.r, near_side_ * b.r * .8}},
           {a.r * .10, b.r * .06}, {.2 * form_.bill_colour, .2 * form_.bill_colour}, 0, 0, Part::bill);
  }

  void eye() {
    const Ring h = form_.spine[form_.head_ring];
    const Ring root = form_.bill.front(), next = form_.bill[1];
    const V3 line = unit({next.x - root.x, next.y - root.y, 0}), up{-line.y, line.x, 0};
    const V3 n = unit(.34 * line + .24 * up + V3{0, 0, .92 * near_side_});
    const V3 at = V3{h.x, h.y, 0} + (h.r * .97) * n;
    const V2 p = view_.point(at);
    const double r = form_.eye * view_.scale;
    const double squeeze = std::clamp(dot(n, view_.near), .55, 1.0);
    eye_at = p;
    eye_radius = r;
    const bool gull = pose_.species == Species::gull;
    const V3 dark_head = pose_.species == Species::tern || pose_.species == Species::avocet
                             ? V3{.10, .10, .10}
                             : V3{.30, .27, .24};
    const V2 lower{p.x, p.y + .15 * r};
    items.emplace_back(Disc{lower, r * 1.75 * squeeze, r * 1.55, .7 * dark_head, .30, Part::eye});
    items.emplace_back(
        Disc{p, r * 1.16 * squeeze, r * 1.14, gull ? V3{.30, .11, .06} : dark_head, .95, Part::eye});
    items.emplace_back(
        Disc{p, r * squeeze, r, gull ? V3{.085, .055, .030} : V3{.045, .026, .018}, 1, Part::eye});
    items.emplace_back(Disc{{p.x + .10 * r, p.y + .42 * r},
                            r * .62 * squeeze,
                            r * .40,
                            gull ? V3{.16, .11, .06} : V3{.085, .055, .040},
                            .6,
                            Part::eye});
    items.emplace_back(Disc{p, r * .60 * squeeze, r * .60, {.006, .006, .007}, 1, Part::eye});
    items.emplace_back(
        Disc{{p.x - .30 * r, p.y - .36 * r}, r * .25, r * .22, {1.15, 1.15, 1.12}, 1, Part::eye});
    items.emplace_back(
        Disc{{p.x + .26 * r, p.y + .45 * r}, r * .30, r * .11, {.16, .17, .19}, .7, Part::eye});
  }

  void legs() {
    const double foot = -form_.leg_length;
    const Ring hip = spine_at(form_.spine, .5 * form_.neck_from);
    const double body_low = hip.y - hip.r * .8;
    for (int side : {-near_side_, near_side_}) {
      const double x = side == near_side_ ? .01 : -.05, z = .055 * side;
      const double knee = mix(body_low, body_low + foot, .45);
      const double r = .0115;
      const V3 shade = side == near_side_ ? form_.leg_colour : .6 * form_.leg_colour;
      stroke({{x + .01, body_low + .03, z},
              {x - .02, knee, z},
              {x, body_low + foot, z},
              {x + .07, body_low + foot - .008, z}},
             {r * 1.7, r * 1.25, r, r * .7}, {shade, shade, shade, shade}, .08, .12, Part::leg);
    }
  }

  // Colours of the flight feathers.
  void remex_look(Look& look, double out, bool hand, bool dorsal) {
    switch (pose_.species) {
      case Species::gull:
        look.colour = dorsal ? V3{.34, .355, .38} : V3{.70, .70, .69};
        look.tip_colour = hand ? V3{.030, .029, .031} : white_feather;
        look.tip_from = hand ? mix(.96, .52, smooth(.25, 1, out)) : .86;
        break;
      case Species::tern:
        look.colour = dorsal ? V3{.56, .57, .59} : V3{.72, .72, .72};
        look.tip_colour = hand ? V3{.13, .13, .14} : white_feather;
        look.tip_from = hand ? .82 : .88;
        break;
      case Species::avocet:
      case Species::egret:
        look.colour = white_feather;
        break;
    }
  }
  V3 covert_colour(bool dorsal) const {
    if (!dorsal) return white_feather;
    if (pose_.species == Species::gull) return {.355, .37, .395};
    if (pose_.species == Species::tern) return {.56, .57, .59};
    return white_feather;
  }

  void wing(int side) {
    double flap = 0, bend = 0;
    switch (pose_.pose) {
      case Pose::up:
        flap = 54, bend = 10;
        break;
      case Pose::level:
        flap = -5, bend = -4;
        break;
      case Pose::down:
        flap = -40, bend = -14;
        break;
      default:
        break;
    }
    flap += pose_.flap_offset_deg;
    const bool over = pose_.wing_over_head && side == near_side_;
    if (over) flap = 10, bend = -6;
    const double sweep = over ? radians(58) : radians(10);
    const auto span_at = [&](double deg) {
      return unit({std::sin(sweep), std::cos(sweep) * std::sin(radians(deg)),
                   std::cos(sweep) * std::cos(radians(deg)) * side});
    };
    const V3 s1 = span_at(flap), s2 = unit(span_at(flap + bend) + V3{over ? .1 : -.22, 0, 0});
    const double twist = radians(pose_.pose == Pose::up ? -10 : pose_.pose == Pose::down ? 10 : 3);
    V3 back{-std::cos(twist), -std::sin(twist), 0};
    if (over) back = {-.40, -.92, 0};  // hangs down before the face, as at the end of a downstroke
    back = unit(back - dot(back, s1) * s1);
    V3 n1 = unit(cross(s1, back));
    if (n1.y < 0) n1 = -1.0 * n1;
    V3 n2 = unit(cross(s2, back));
    if (n2.y < 0) n2 = -1.0 * n2;
    const bool dorsal = dot(n1, view_.near) > 0;
    const bool dorsal_hand = dot(n2, view_.near) > 0;
    const Part part = side == near_side_ ? Part::near_wing : Part::far_wing;

    const Ring at = spine_at(form_.spine, .72 * form_.neck_from);
    const V3 shoulder{at.x + .02, at.y + .55 * at.r, .72 * at.r * side};
    const V3 wrist = shoulder + form_.arm * s1 + .07 * V3{1, 0, 0};
    const V3 finger = wrist + form_.hand * s2;
    const double dim = side == near_side_ ? 1 : .86;

    // Primaries, outermost first, so that each inner one lies over its neighbour's root.
    for (int k = 9; k >= 0; --k) {
      const double out = k / 9.0;
      const V3 base = mix(wrist, finger, out);
      const V3 direction = unit((1.05 - .55 * out) * back + (.30 + 1.0 * out) * s2);
      const double len = form_.primary * (.56 + .44 * out) * (k == 9 ? .97 : 1);
      Look look;
      look.half = mix(.036, .021, out) * (pose_.species == Species::tern ? .85 : 1);
      look.round_from = mix(.62, .30, out);
      look.curve = -.3 * side * (view_.right.x > 0 ? 1 : -1) * (dorsal_hand ? 1 : -1) * .5;
      look.contrast = .075;
      look.shadow = .36;
      look.part = part;
      remex_look(look, out, true, dorsal_hand);
      look.colour = dim * look.colour;
      feather(base, base + len * direction, n2, look);
      if (pose_.species == Species::gull && k >= 8) {  // mirror: a white spot in the black tip
        Look spot = look;
        spot.colour = dim * white_feather;
        spot.tip_from = 2;
        spot.half = look.half * .62;
        spot.round_from = .4;
        spot.shadow = 0;
        const V3 tip = base + len * direction;
        feather(tip - (.20 * len) * direction, tip - (.09 * len) * direction, n2, spot);
      }
    }
    for (int k = 14; k >= 0; --k) {  // secondaries and tertials
      const double u = (k + .2) / 15.0;
      const V3 base = mix(shoulder, wrist, u);
      const V3 direction = unit(back + .16 * s1 + random_.uniform(-.02, .02) * s1);
      Look look;
      look.half = .0265;
      look.round_from = .84;
      look.contrast = .07;
      look.shadow = .30;
      look.part = part;
      remex_look(look, 0, false, dorsal);
      look.colour = dim * look.colour;
      feather(base, base + form_.chord * (1.04 - .12 * u) * direction, n1, look);
    }
    struct Row {
      int count;
      double length, half, forward;
    };
    const V3 covert = dim * covert_colour(dorsal);
    for (const Row& row : {Row{11, .48, .026, 0}, Row{13, .36, .020, .008}, Row{16, .27, .015, .014},
                           Row{20, .19, .0115, .019}, Row{24, .12, .009, .023}}) {
      for (int k = row.count; k >= 0; --k) {  // over the arm
        const double u = (k + random_.uniform(-.2, .2)) / row.count;
        const V3 base = mix(shoulder, wrist, u) - row.forward * back + .004 * n1;
        Look look;
        look.colour = covert;
        look.half = row.half;
        look.round_from = .55;
        look.contrast = .055;
        look.shadow = .17;
        look.part = part;
        look.curve = random_.uniform(-.2, .2);
        feather(base, base + form_.chord * row.length * unit(back + .2 * s1), n1, look);
      }
      if (row.length > .45) continue;
      const int hand_count = row.count * 2 / 3;
      for (int k = hand_count; k >= 0; --k) {  // over the hand
        const double u = static_cast<double>(k) / hand_count;
        const V3 base = mix(wrist, finger, u * 1.05) - row.forward * back;
        Look look;
        look.colour = dim * (pose_.species == Species::gull && dorsal_hand ? V3{.34, .355, .38}
                                                                           : covert_colour(dorsal_hand));
        look.half = row.half * .9;
        look.round_from = .5;
        look.contrast = .055;
        look.shadow = .17;
        look.part = part;
        const V3 direction = unit((1.0 - .5 * u) * back + (.3 + .9 * u) * s2);
        feather(base, base + form_.primary * row.length * .75 * direction, n2, look);
      }
    }
    const V3 edge = dim * mix(covert_colour(dorsal), .93 * white_feather, .35);
    const V3 forward = -.012 * back;
    stroke({shoulder + .3 * forward, mix(shoulder, wrist, .5) + .012 * V3{1, 0, 0} + forward, wrist + forward,
            mix(wrist, finger, .6) + forward, finger + .02 * s2},
           {.014, .0115, .010, .007, .0025}, {edge, edge, edge, edge, edge}, 0, .07, part);
    for (int k = 0; k < 46; ++k) {  // marginal coverts hide the joint between the leading edge and the rows
      const double u = k / 45.0;
      const V3 base =
          (u < .65 ? mix(shoulder, wrist, u / .65) : mix(wrist, finger, (u - .65) / .35)) + 1.6 * forward;
      Look look;
      look.colour = u < .65 ? mix(covert, edge, .5) : edge;
      look.half = .0085;
      look.round_from = .5;
      look.contrast = .06;
      look.shadow = .12;
      look.part = part;
      const V3 n = unit((dorsal ? 1.0 : -1.0) * (u < .65 ? n1 : n2) + .5 * V3{1, 0, 0});
      feather(base, base + .055 * unit(back + .35 * (u < .65 ? s1 : s2)), n, look);
    }
  }

  void folded_wing() {
    const double z = near_side_;
    const Species sp = pose_.species;
    const bool gull = sp == Species::gull;
    const double front_at = .72 * form_.neck_from,
                 rear_at = .14 * form_.neck_from;  // the trunk along the spine
    const Ring front = spine_at(form_.spine, front_at), rear = spine_at(form_.spine, rear_at);
    const V3 grey{.355, .37, .395};
    const V3 mantle = gull ? grey : white_feather;
    const V3 axis = unit({rear.x - front.x, rear.y - front.y + .03, 0});  // backwards along the body
    const V3 up{axis.y, -axis.x, 0};
    const V3 upward = up.y < 0 ? -1.0 * up : up;
    const auto on_side = [&](double along,
                             double height) {  // along 0 front .. 1 rear, height -1..1 of the side
      const Ring c = spine_at(form_.spine, mix(front_at, rear_at, along));
      const double r = c.r * 1.06;
      return V3{c.x, c.y, 0} + (r * height) * upward +
             V3{0, 0, r * std::sqrt(std::max(.05, 1 - height * height)) * z};
    };
    const auto normal_at = [&](double height) {
      return unit(height * upward + V3{0, 0, std::sqrt(std::max(.05, 1 - height * height)) * z});
    };
    for (int k = 0; k < 7; ++k) {  // primaries, beyond the tail
      const V3 base = on_side(.70, .42 - .05 * k);
      const V3 tip = base + (.40 - .034 * k) * unit(axis + (-.06 - .010 * k) * upward + V3{0, 0, -.10 * z});
      Look look;
      look.colour = sp == Species::egret ? white_feather : black_feather;
      look.tip_colour = white_feather;
      look.tip_from = gull ? .93 : 2;
      look.half = .022;
      look.round_from = .5;
      look.contrast = sp == Species::egret ? .07 : .16;
      look.shadow = .3;
      look.part = Part::near_wing;
      feather(base, tip, normal_at(.3), look);
    }
    struct Row {
      int count;
      double from, to, low, high, length, half;
    };
    const Row rows[] = {{9, .78, .50, -.10, .62, .27, .034},    {10, .60, .28, -.40, .45, .19, .027},
                        {12, .46, .16, -.48, .50, .135, .021},  {14, .34, .08, -.50, .55, .100, .016},
                        {14, .22, .00, -.46, .60, .075, .0125}, {14, .12, -.05, -.40, .60, .055, .0105}};
    int index = 0;
    for (const Row& row : rows) {
      for (int k = 0; k < row.count; ++k) {
        const double t = (k + .5 + random_.uniform(-.2, .2)) / row.count;
        const double height = mix(row.low, row.high, t);
        const V3 base = on_side(mix(row.from, row.to, .5) + (row.from - row.to) * (t - .5) * .7, height);
        const V3 tip = base + row.length * random_.uniform(.88, 1.12) *
                                  unit(axis + (-.10 + .12 * (t - .5) + random_.uniform(-.05, .05)) * upward);
        Look look;
        look.colour = mantle;
        look.tip_colour = white_feather;
        look.tip_from = gull && index == 0 ? .88 : 2;
        if (sp == Species::avocet && (index == 2 || index == 3) && t < .62) look.colour = black_feather;
        look.half = row.half;
        look.round_from = .6;
        look.contrast = look.colour.y < .1 ? .16 : .060;
        look.shadow = mantle.y > .6 ? .12 : .22;
        look.root_shade = mantle.y > .6 ? .90 : .80;
        look.curve = random_.uniform(-.35, .35);
        look.part = Part::near_wing;
        feather(base, tip, normal_at(height), look);
      }
      ++index;
    }
    for (int k = 0; k < 22; ++k) {  // scapulars along the back
      const double along = .62 - .62 * k / 21.0;
      const double height = .80 + random_.uniform(-.14, .10);
      const V3 base = on_side(along, height);
      Look look;
      look.colour = sp == Species::avocet && k > 3 && k < 20 ? black_feather : mantle;
      look.half = .019;
      look.round_from = .55;
      look.contrast = look.colour.y < .1 ? .16 : .060;
      look.shadow = .2;
      look.part = Part::near_wing;
      feather(base, base + .11 * unit(axis - .06 * upward), normal_at(height), look);
    }
    if (sp == Species::egret) {  // plumes over the tail
      for (int k = 0; k < 16; ++k) {
        const V3 base = on_side(.55 + .2 * random_.uniform(), .55 + .3 * random_.uniform());
        Look look;
        look.colour = white_feather;
        look.half = .0045;
        look.round_from = .1;
        look.shadow = .12;
        look.contrast = .03;
        look.curve = random_.uniform(-3, 3);
        feather(base, base + random_.uniform(.26, .38) * unit(axis + random_.uniform(-.22, -.02) * upward),
                normal_at(.6), look);
      }
    }
  }

  const BirdPose& pose_;
  const View& view_;
  Form form_;
  Random random_;
  int near_side_ = 1;
};

cv::Rect2d bounds(const std::vector<Item>& items) {
  double x0 = 1e9, y0 = 1e9, x1 = -1e9, y1 = -1e9;
  const auto add = [&](V2 p, double r) {
    x0 = std::min(x0, p.x - r), y0 = std::min(y0, p.y - r), x1 = std::max(x1, p.x + r),
    y1 = std::max(y1, p.y + r);
  };
  for (const Item& item : items) {
    if (const auto* f = std::get_if<Feather>(&item)) {
      add(f->base, length(f->across));
      add(f->base + f->axis + f->curve * f->across, .5 * length(f->across));
    } else if (const auto* s = std::get_if<Stroke>(&item)) {
      for (const auto& p : s->points) add(p.at, p.radius);
    }
  }
  return {x0, y0, x1 - x0, y1 - y0};
}

}  // namespace

cv::Rect2d bird_extent(const BirdPose& pose) {
  const View view = view_of(pose, {0, 0}, 1);
  Builder builder(pose, view);
  builder.build();
  return bounds(builder.items);
}

Sprite render_bird(const BirdPose& pose, V2 centre, double scale, cv::Rect limit) {
  const View view = view_of(pose, centre, scale);
  Builder builder(pose, view);
  builder.build();
  const cv::Rect2d box = bounds(builder.items);
  const cv::Rect wanted(static_cast<int>(std::floor(box.x)) - 3, static_cast<int>(std::floor(box.y)) - 3,
                        static_cast<int>(box.width) + 7, static_cast<int>(box.height) + 7);
  Sprite sprite;
  sprite.area = wanted & limit;
  sprite.head = builder.head;
  sprite.head_radius = builder.head_radius;
  if (sprite.area.empty()) return sprite;
  sprite.colour.create(sprite.area.size());
  sprite.white.create(sprite.area.size());
  sprite.parts.create(sprite.area.size());
  constexpr int band = 128;
  const int bands = (sprite.area.height + band - 1) / band;
  cv::parallel_for_(cv::Range(0, bands), [&](const cv::Range& range) {
    for (int b = range.start; b < range.end; ++b) {
      const cv::Rect rows(sprite.area.x, sprite.area.y + b * band, sprite.area.width,
                          std::min(band, sprite.area.height - b * band));
      Canvas canvas(rows, scale);
      for (const Item& item : builder.items) {
        if (const auto* f = std::get_if<Feather>(&item)) {
          canvas.paint(*f);
        } else if (const auto* s = std::get_if<Stroke>(&item)) {
          canvas.paint(*s);
        } else {
          const auto& d = std::get<Disc>(item);
          canvas.disc(d.at, d.rx, d.ry, d.radiance, d.alpha, d.part);
        }
      }
      const cv::Rect part(0, b * band, rows.width, rows.height);
      canvas.colour().copyTo(sprite.colour(part));
      canvas.white().copyTo(sprite.white(part));
      canvas.parts().copyTo(sprite.parts(part));
    }
  });
  int seen = 0, all = 0;
  const int reach = static_cast<int>(std::ceil(builder.eye_radius));
  for (int dy = -reach; dy <= reach; ++dy) {
    for (int dx = -reach; dx <= reach; ++dx) {
      if (dx * dx + dy * dy > builder.eye_radius * builder.eye_radius) continue;
      const cv::Point at(static_cast<int>(builder.eye_at.x) + dx, static_cast<int>(builder.eye_at.y) + dy);
      if (!sprite.area.contains(at)) continue;
      ++all;
      seen += sprite.parts(at - sprite.area.tl()) == static_cast<unsigned char>(Part::eye) ? 1 : 0;
    }
  }
  sprite.eye_seen = all == 0 ? 0 : static_cast<double>(seen) / all;
  return sprite;
}

}  // namespace burstsieve::generate
