#include "species.h"

#include <algorithm>
#include <cmath>

namespace burstsieve::generate {

const char* name_of(Species species) {
  switch (species) {
    case Species::gull:
      return "gull";
    case Species::tern:
      return "tern";
    case Species::avocet:
      return "avocet";
    case Species::egret:
      return "egret";
  }
  return "";
}

const char* name_of(Pose pose) {
  switch (pose) {
    case Pose::up:
      return "up";
    case Pose::level:
      return "level";
    case Pose::down:
      return "down";
    case Pose::perched:
      return "perched";
    case Pose::feeding:
      return "feeding";
  }
  return "";
}

Form form_of(Species species, Pose pose) {
  const bool stands = pose == Pose::perched || pose == Pose::feeding;
  switch (species) {
    case Species::gull: {
      Form f{{{-.36, .015, .025},
              {-.25, .005, .075},
              {-.08, -.015, .122},
              {.10, -.012, .128},
              {.22, .018, .104},
              {.30, .045, .082},
              {.365, .062, .073},
              {.415, .058, .060},
              {.448, .048, .034}},
             6,
             .72,
             {{.435, .048, .028}, {.50, .042, .022}, {.535, .034, .017}, {.552, .018, .005}},
             {.62, .43, .06},
             {.60, .10, .04},
             .27,
             26,
             0,
             .40,
             .16,
             .46,
             .25,
             .0165,
             .17,
             {.52, .26, .22}};
      if (stands) {
        f.spine = {{-.36, -.03, .025}, {-.25, -.025, .080}, {-.08, -.02, .128},
                   {.10, .01, .136},   {.20, .065, .112},   {.255, .135, .080},
                   {.285, .20, .073},  {.335, .212, .062},  {.372, .205, .034}};
        f.head_ring = 6;
        f.bill = {{.36, .205, .027}, {.425, .197, .021}, {.46, .188, .016}, {.476, .172, .005}};
      }
      return f;
    }
    case Species::tern: {
      Form f{{{-.34, .01, .020},
              {-.24, .005, .058},
              {-.08, -.01, .092},
              {.08, -.008, .098},
              {.19, .016, .082},
              {.26, .036, .068},
              {.32, .048, .062},
              {.365, .044, .050},
              {.395, .036, .028}},
             6,
             .72,
             {{.385, .036, .023}, {.46, .030, .016}, {.53, .020, .009}, {.565, .014, .003}},
             {.62, .09, .03},
             {.06, .03, .03},
             .40,
             20,
             .62,
             .33,
             .15,
             .56,
             .17,
             .0150,
             .09,
             {.55, .09, .04}};
      return f;
    }
    case Species::avocet: {
      Form f{{{-.34, .00, .022},
              {-.24, .00, .070},
              {-.08, -.01, .108},
              {.08, .00, .112},
              {.17, .045, .082},
              {.215, .12, .050},
              {.225, .21, .040},
              {.245, .285, .041},
              {.285, .325, .049},
              {.325, .325, .042},
              {.350, .318, .022}},
             8,
             .50,
             {{.34, .318, .017}, {.42, .300, .011}, {.50, .300, .008}, {.58, .325, .004}, {.615, .345, .002}},
             {.035, .034, .036},
             {.03, .03, .03},
             .16,
             10,
             0,
             .34,
             .14,
             .34,
             .22,
             .0130,
             .42,
             {.28, .36, .43}};
      if (pose == Pose::feeding) {
        f.spine = {{-.33, .05, .022},   {-.23, .04, .070},   {-.08, .015, .108}, {.08, -.01, .112},
                   {.18, -.02, .082},   {.255, -.04, .050},  {.315, -.09, .040}, {.352, -.155, .040},
                   {.385, -.205, .048}, {.418, -.232, .041}, {.438, -.248, .022}};
        f.bill = {{.432, -.24, .017},
                  {.49, -.31, .011},
                  {.56, -.355, .008},
                  {.63, -.375, .004},
                  {.665, -.375, .002}};
      }
      return f;
    }
    case Species::egret: {
      Form f{{{-.36, -.05, .022},
              {-.26, -.03, .066},
              {-.10, .00, .100},
              {.06, .04, .096},
              {.14, .10, .060},
              {.20, .17, .040},
              {.185, .26, .034},
              {.175, .345, .033},
              {.21, .410, .037},
              {.255, .422, .041},
              {.300, .412, .032},
              {.325, .405, .018}},
             9,
             .42,
             {{.315, .405, .017}, {.40, .393, .012}, {.48, .380, .006}, {.51, .375, .002}},
             {.05, .048, .045},
             {.03, .03, .03},
             .17,
             9,
             0,
             .42,
             .18,
             .34,
             .28,
             .0120,
             .48,
             {.030, .029, .028}};
      if (pose == Pose::feeding) {
        f.spine = {{-.36, .01, .022},   {-.26, .02, .066},   {-.10, .02, .100},   {.06, .02, .096},
                   {.15, .03, .062},    {.235, .055, .042},  {.315, .06, .035},   {.375, .015, .033},
                   {.415, -.045, .035}, {.450, -.095, .040}, {.482, -.130, .031}, {.497, -.148, .017}};
        f.bill = {{.49, -.14, .017}, {.54, -.205, .012}, {.59, -.27, .006}, {.61, -.295, .002}};
      }
      return f;
    }
  }
  return {};
}

Ring spine_at(const std::vector<Ring>& rings, double a) {
  const double at = std::clamp(a, 0.0, 1.0) * static_cast<double>(rings.size() - 1);
  const auto i = std::min(static_cast<std::size_t>(at), rings.size() - 2);
  const double t = at - static_cast<double>(i);
  const Ring& p0 = rings[i == 0 ? 0 : i - 1];
  const Ring& p1 = rings[i];
  const Ring& p2 = rings[i + 1];
  const Ring& p3 = rings[std::min(i + 2, rings.size() - 1)];
  const auto cubic = [t](double q0, double q1, double q2, double q3) {
    return q1 + .5 * t * (q2 - q0 + t * (2 * q0 - 5 * q1 + 4 * q2 - q3 + t * (3 * (q1 - q2) + q3 - q0)));
  };
  return {cubic(p0.x, p1.x, p2.x, p3.x), cubic(p0.y, p1.y, p2.y, p3.y),
          std::max(.004, cubic(p0.r, p1.r, p2.r, p3.r))};
}

V3 body_colour(Species species, double a, double up, bool on_head, V3 from_head) {
  switch (species) {
    case Species::gull:
      return !on_head && a > .12 && a < .66 && up > .45 ? V3{.36, .375, .40} : mix(white_feather, ivory, a);
    case Species::tern:
      if (on_head && from_head.y > .12 + .22 * std::abs(from_head.x - .2) * (from_head.x > .2 ? 1 : 0))
        return black_feather;
      return !on_head && a > .15 && a < .66 && up > .35 ? V3{.52, .53, .55} : white_feather;
    case Species::avocet:
      if (on_head && from_head.y > .02 - .25 * from_head.x) return black_feather;
      if (a > .56 && a < .9 && up > -.15 && from_head.x < -.35) return black_feather;  // nape
      return mix(white_feather, ivory, .4);
    case Species::egret:
      return white_feather;
  }
  return white_feather;
}

}  // namespace burstsieve::generate
