#include <fmt/format.h>

#include <cmath>

#include "fit.h"

namespace burstsieve::heads {
namespace {

template <class Values>
std::string list(const Values& values) {
  std::string out, line;
  for (const auto v : values) {
    const std::string item = fmt::format("{:.4g}", static_cast<double>(v));
    if (line.size() + item.size() > 112) out += line + "\n", line.clear();
    line += (line.empty() ? "" : " ") + item + ",";
  }
  return "{" + out + line + "}";
}

}  // namespace

std::string source_of(const subject::HeadWeights& w, const std::string& how) {
  std::string out =
      "// Written by burstsieve-heads: " + how +
      "\n// clang-format off\n#include \"head_weights.h\"\n\nnamespace burstsieve::subject {\n\n"
      "const HeadWeights& head_weights() {\n  static const HeadWeights weights{\n{";
  out += list(w.scorer.mean) + ",\n" + list(w.scorer.scale) + ",\n{";
  for (const auto& unit : w.scorer.hidden) out += list(unit) + ",\n";
  out += "},\n" + list(w.scorer.out) + "},\n";
  out += list(w.visible) + ",\n" + list(w.hidden) + ",\n" + list(w.visible_in_burst) + ",\n" +
         list(w.hidden_in_burst) + "};\n  return weights;\n}\n\n}  // namespace burstsieve::subject\n";
  return out;
}

}  // namespace burstsieve::heads
