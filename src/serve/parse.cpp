// The JSON that the page sends.
#include <algorithm>
#include <nlohmann/json.hpp>

#include "body.h"
#include "burstsieve/serve/gate.h"
#include "burstsieve/serve/review.h"

namespace burstsieve::serve {
namespace {

using PageJson = nlohmann::json;

// The page nests two deep; the parser's memory would grow with the depth.
constexpr int kMaxDepth = 4;

bool shallow(const std::string& text) {
  int depth = 0;
  bool in_string = false;
  for (std::size_t i = 0; i < text.size(); ++i) {
    const char c = text[i];
    if (in_string) {
      if (c == '\\')
        ++i;
      else if (c == '"')
        in_string = false;
    } else if (c == '"') {
      in_string = true;
    } else if (c == '[' || c == '{') {
      if (++depth > kMaxDepth) return false;
    } else if (c == ']' || c == '}') {
      --depth;
    }
  }
  return true;
}

// As a number, or as the text that a page makes of one.
std::optional<std::uint32_t> id_of(const PageJson& j, std::uint32_t most) {
  std::optional<std::uint32_t> id;
  if (j.is_string()) id = parse_id(j.get_ref<const std::string&>(), most);
  if (j.is_number_unsigned() && j.get<std::uint64_t>() <= most) id = j.get<std::uint32_t>();
  return id && *id >= 1 ? id : std::nullopt;
}

}  // namespace

std::optional<nlohmann::json> parse_object(const std::string& body) {
  if (!shallow(body)) return std::nullopt;
  PageJson j = PageJson::parse(body, nullptr, false);
  if (!j.is_object()) return std::nullopt;
  return j;
}

std::optional<Decision> parse_decision(const std::string& body, std::uint32_t frames) {
  const auto j = parse_object(body);
  if (!j || !j->contains("frames") || !j->contains("verdict")) return std::nullopt;
  const PageJson& list = (*j)["frames"];
  const PageJson& word = (*j)["verdict"];
  if (!list.is_array() || list.empty() || !word.is_string()) return std::nullopt;
  Decision out;
  for (const PageJson& one : list) {
    const auto id = id_of(one, frames);
    if (!id) return std::nullopt;
    out.frames.push_back(*id);
  }
  std::sort(out.frames.begin(), out.frames.end());
  out.frames.erase(std::unique(out.frames.begin(), out.frames.end()), out.frames.end());
  bool known = word == "none";
  for (const Verdict v : {Verdict::keep, Verdict::reject, Verdict::undecided})
    if (word == name_of(v)) {
      out.verdict = v;
      known = true;
    }
  if (!known) return std::nullopt;
  if (j->contains("rating") && !(*j)["rating"].is_null()) {
    const PageJson& rating = (*j)["rating"];
    if (!rating.is_number_integer() || out.verdict != Verdict::keep) return std::nullopt;
    const auto stars = rating.get<std::int64_t>();
    if (stars < 1 || stars > 5) return std::nullopt;
    out.rating = static_cast<int>(stars);
  }
  return out;
}

}  // namespace burstsieve::serve
