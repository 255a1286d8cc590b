// Small vectors for the renderer. Bird space: x forward, y up, z to the bird's right; camera space: x right,
// y up, z towards the camera. Pixels: x right, y down, (0,0) the corner of the first pixel.
#pragma once
#include <algorithm>
#include <cmath>

namespace burstsieve::generate {

struct V2 {
  double x = 0, y = 0;
};
inline V2 operator+(V2 a, V2 b) {
  return {a.x + b.x, a.y + b.y};
}
inline V2 operator-(V2 a, V2 b) {
  return {a.x - b.x, a.y - b.y};
}
inline V2 operator*(double k, V2 a) {
  return {k * a.x, k * a.y};
}
inline double dot(V2 a, V2 b) {
  return a.x * b.x + a.y * b.y;
}
inline double length(V2 a) {
  return std::sqrt(dot(a, a));
}

// Also a linear RGB colour (x red, y green, z blue; 1 = a perfect white reflector).
struct V3 {
  double x = 0, y = 0, z = 0;
};
inline V3 operator+(V3 a, V3 b) {
  return {a.x + b.x, a.y + b.y, a.z + b.z};
}
inline V3 operator-(V3 a, V3 b) {
  return {a.x - b.x, a.y - b.y, a.z - b.z};
}
inline V3 operator*(double k, V3 a) {
  return {k * a.x, k * a.y, k * a.z};
}
inline V3 operator*(V3 a, V3 b) {
  return {a.x * b.x, a.y * b.y, a.z * b.z};
}
inline double dot(V3 a, V3 b) {
  return a.x * b.x + a.y * b.y + a.z * b.z;
}
inline V3 cross(V3 a, V3 b) {
  return {a.y * b.z - a.z * b.y, a.z * b.x - a.x * b.z, a.x * b.y - a.y * b.x};
}
inline double length(V3 a) {
  return std::sqrt(dot(a, a));
}
inline V3 unit(V3 a) {
  const double n = length(a);
  return n > 1e-12 ? (1 / n) * a : V3{0, 1, 0};
}
inline V3 mix(V3 a, V3 b, double t) {
  return (1 - t) * a + t * b;
}
inline double mix(double a, double b, double t) {
  return (1 - t) * a + t * b;
}
inline double smooth(double lo, double hi, double x) {
  const double t = std::clamp((x - lo) / (hi - lo), 0.0, 1.0);
  return t * t * (3 - 2 * t);
}
inline double radians(double degrees) {
  return degrees * 0.017453292519943295;
}

}  // namespace burstsieve::generate
