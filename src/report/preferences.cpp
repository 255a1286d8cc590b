#include "burstsieve/report/preferences.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <ctime>
#include <nlohmann/json.hpp>
#include <utility>

#include "burstsieve/base/text.h"
#include "burstsieve/base/version.h"

namespace burstsieve::report {
namespace {

using rank::FeatureSpec;
using PreferencesJson = nlohmann::ordered_json;

constexpr const char* kFormat = "burstsieve preferences";
constexpr int kFormatVersion = 1;
// Poses that a feature must have differed in before anything is said of it.
constexpr int kFewPoses = 5;
constexpr double kLikely = .9, kCertain = .99;

std::string day_of(std::int64_t ms) {
  const std::time_t seconds = static_cast<std::time_t>(ms / 1000);
  std::tm parts{};
  char text[16];
  if (!gmtime_r(&seconds, &parts) || std::strftime(text, sizeof text, "%Y-%m-%d", &parts) == 0) return "?";
  return text;
}

// Probability that the weight differs from its base to the side where it was found.
double sureness(const rank::Learnt& l, std::size_t i) {
  if (!(l.uncertainty[i] > 0)) return .5;
  const double z = std::abs(l.weights[i] - l.base[i]) / l.uncertainty[i];
  return .5 * std::erfc(-z / std::sqrt(2.0));
}

const char* word_of(double sure) {
  return sure >= kCertain ? "nearly certain" : sure >= kLikely ? "likely" : "a guess";
}

// What a typical difference of the feature is worth, as so many times the blur.
std::string worth(const rank::Weights& w, std::size_t i) {
  const double blur = std::abs(w[rank::kBlur]);
  if (blur < .1) return "more than any blur";
  const double octaves = std::abs(w[i]) * rank::feature_specs()[i].spread / blur;
  if (octaves > 3) return "more than blur x8";
  return "blur x" + fixed(std::exp2(octaves), 2);
}

std::string compared(const rank::Learnt& l, std::size_t i) {
  const FeatureSpec& spec = rank::feature_specs()[i];
  const double w = l.weights[i], b = l.base[i];
  if (std::abs(b) > 0 && (w == 0 || (w > 0) == (b > 0))) {
    const double low = std::max(0.0, std::abs(w) - l.uncertainty[i]) / std::abs(b);
    const double high = (std::abs(w) + l.uncertainty[i]) / std::abs(b);
    return fmt::format("you weigh {} {} times as much as the defaults ({} to {})", spec.words,
                       fixed(std::abs(w / b), 1), fixed(low, 1), fixed(high, 1));
  }
  return fmt::format("you prefer {}; {}", w > 0 ? spec.more : spec.less,
                     b == 0 ? "by default it does not count" : "the defaults prefer the opposite");
}

std::string feature_line(const rank::Learnt& l, std::size_t i) {
  const FeatureSpec& spec = rank::feature_specs()[i];
  std::string said;
  const double sure = sureness(l, i);
  if (l.informed[i] < kFewPoses)
    said = fmt::format("{}: too few choices to tell", spec.words);
  else if (sure < kLikely)
    said = fmt::format("{}: nothing that differs from the defaults beyond doubt", spec.words);
  else
    said = compared(l, i);
  std::string out = fmt::format("  {} (from {} poses", said, l.informed[i]);
  if (l.informed[i] >= kFewPoses) out += fmt::format("; {}", sure < kLikely ? "open" : word_of(sure));
  out += fmt::format(")\n    weight {} +- {}, by default {}", fixed(l.weights[i], 2),
                     fixed(l.uncertainty[i], 2), fixed(spec.weight, 2));
  if (i != rank::kBlur)
    out +=
        fmt::format("; a typical difference ({} {}) weighs as much as {}, by default {}",
                    fixed(spec.spread, 2), spec.unit, worth(l.weights, i), worth(rank::default_weights(), i));
  return out + "\n";
}

std::string foretold(const rank::Learnt& l) {
  return fmt::format(
      "of choices kept out of the learning {} % are foretold, {} % by the defaults ({} standard errors)",
      fixed(100 * l.agreed_learnt, 0), fixed(100 * l.agreed_base, 0), fixed(l.gain_sure, 1));
}

std::string use_of(const PreferenceProfile& p) {
  const rank::Learnt& l = p.learnt;
  const rank::LearningOptions o;
  if (l.in_use) return "In use: " + foretold(l);
  const std::string until = p.imported ? "The imported weights are in use" : "Not in use, the defaults are";
  if (l.overrides < o.enough)
    return fmt::format("{}: {} ratings of yours, learning needs {}", until, l.overrides, o.enough);
  return fmt::format("{}: what was learnt is not better beyond chance; {}, {} are needed", until, foretold(l),
                     fixed(o.sure, 1));
}

}  // namespace

std::string preferences_text(const PreferenceProfile& p) {
  const rank::Learnt& l = p.learnt;
  std::string out = fmt::format("Profile {}", p.name);
  if (l.overrides == 0)
    return out + (p.imported ? ": imported weights are in use; nothing was learnt yet\n"
                             : ": nothing was learnt yet; the defaults are in use\n");
  out += fmt::format(
      ": learnt on {} from {} ratings of yours and {} poses where you let our choice stand ({} pairs)\n",
      day_of(p.learnt_ms), l.overrides, l.agreements, l.choices);
  out += use_of(p) + "\n\n";
  for (std::size_t i = 0; i < rank::kFeatures; ++i) out += feature_line(l, i);
  out +=
      "\nA weight of 1 per unit is a factor of two in blur. Taste chooses which of the frames that stay is "
      "the one\n"
      "to keep; no frame is rejected for it.\n";
  return out;
}

std::string learnt_line(const PreferenceProfile& p) {
  const rank::Learnt& l = p.learnt;
  const std::string from =
      fmt::format("Learnt   from {} ratings of yours (profile {}): ", l.overrides, p.name);
  if (l.in_use) return from + "the next run goes by it (burstsieve preferences)\n";
  const rank::LearningOptions o;
  if (l.overrides < o.enough) return from + fmt::format("{} are needed before it counts\n", o.enough);
  return from + "not better than the defaults beyond chance, and not used\n";
}

std::string preferences_json(const PreferenceProfile& p) {
  const rank::Learnt& l = p.learnt;
  PreferencesJson out{{"format", kFormat},
                      {"format_version", kFormatVersion},
                      {"version", kVersion},
                      {"profile", p.name},
                      {"learnt_ms", p.learnt_ms},
                      {"in_use", l.in_use},
                      {"imported", p.imported},
                      {"overrides", l.overrides},
                      {"agreements", l.agreements},
                      {"pairs", l.choices},
                      {"scale", l.scale},
                      {"gain_standard_errors", l.gain_sure},
                      {"foretold", l.agreed_learnt},
                      {"foretold_by_base", l.agreed_base},
                      {"features", PreferencesJson::array()}};
  const auto used = weights_in_use(p).value_or(rank::default_weights());
  for (std::size_t i = 0; i < rank::kFeatures; ++i) {
    const FeatureSpec& spec = rank::feature_specs()[i];
    out["features"].push_back({{"id", spec.id},
                               {"unit", spec.unit},
                               {"weight_in_use", used[i]},
                               {"learnt", l.weights[i]},
                               {"uncertainty", l.uncertainty[i]},
                               {"base", l.base[i]},
                               {"default", spec.weight},
                               {"least", spec.least},
                               {"most", spec.most},
                               {"poses", l.informed[i]},
                               {"sure", sureness(l, i)}});
  }
  return out.dump(2) + "\n";
}

Result<PreferenceProfile> preferences_from_json(std::string_view text, const std::string& file) {
  const auto bad = [&](const std::string& why) { return Error{Cause::corrupt, file, why}; };
  if (text.size() > kMostPreferenceBytes)
    return Error{Cause::limit, file, "is too long for exported preferences"};
  const auto json = nlohmann::json::parse(text, nullptr, false);
  if (!json.is_object() || !json.contains("format") || json["format"] != kFormat)
    return bad("are no exported preferences of burstsieve");
  if (!json.contains("format_version") || json["format_version"] != kFormatVersion)
    return Error{Cause::unsupported, file, "are preferences of another format version"};
  if (!json.contains("features") || !json["features"].is_array()) return bad("holds no features");
  PreferenceProfile out;
  out.imported = true;
  rank::Weights weights = rank::default_weights();
  std::array<bool, rank::kFeatures> seen{};
  for (const auto& f : json["features"]) {
    if (!f.is_object() || !f.contains("id") || !f["id"].is_string())
      return bad("holds a feature without an id");
    const std::string id = f["id"].get<std::string>();
    const auto feature = rank::feature_of(id);
    if (!feature) return bad(fmt::format("holds a feature that is not known: {}", one_line(id)));
    if (std::exchange(seen[*feature], true)) return bad(fmt::format("holds {} twice", id));
    if (!f.contains("weight_in_use") || !f["weight_in_use"].is_number())
      return bad(fmt::format("holds no weight_in_use of {}", id));
    const double w = f["weight_in_use"].get<double>();
    const FeatureSpec& spec = rank::feature_specs()[*feature];
    if (!(w >= spec.least && w <= spec.most))
      return bad(fmt::format("{} must be {} to {}", id, fixed(spec.least, 2), fixed(spec.most, 2)));
    weights[*feature] = w;
  }
  out.learnt.weights = out.learnt.base = weights;
  return out;
}

}  // namespace burstsieve::report
