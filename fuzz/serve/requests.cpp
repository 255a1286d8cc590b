// Promise: whatever address, cookie and body a stranger sends, it is refused, or it is a path with few plain
// parameters, numbers in their range, and a decision on frames that are there; nobody without the secrets is
// let in.
//
// Input: the address on the first line, the Host on the second, the Cookie on the third, the body after that.
#include <algorithm>
#include <string>
#include <string_view>

#include "burstsieve/serve/gate.h"
#include "burstsieve/serve/review.h"
#include "support/target.h"

using namespace burstsieve;
using namespace burstsieve::serve;

namespace {

constexpr std::uint32_t kFrames = 40;
const Secrets kSecrets{"6d756466", "6c617473", "7465726e"};

std::string line_of(std::string_view& rest) {
  const auto end = std::min(rest.find('\n'), rest.size());
  std::string out(rest.substr(0, end));
  rest.remove_prefix(std::min(end + 1, rest.size()));
  return out;
}

void require_plain(const Target& t) {
  fuzz::require(t.path.starts_with('/') && t.path.size() <= 2048, "a path is a path, and short");
  fuzz::require(t.query.size() <= 16, "there are few parameters");
  for (const char c : t.path) fuzz::require(c > 0x20 && c < 0x7f, "a path is plain text");
  for (const auto& [name, value] : t.query) {
    fuzz::require(!name.empty(), "a parameter has a name");
    if (const auto f = parse_fraction(value)) fuzz::require(*f == *f, "a fraction is a number");
    if (const auto id = parse_id(value, kFrames))
      fuzz::require(*id <= kFrames && std::to_string(*id) == value, "an id is written one way only");
  }
}

// A stranger who knows none of the secrets, as far as the input does not spell them.
bool let_in(const Request& r, const Target& t) {
  const auto refused = Gate(4711, kSecrets).check(r, t);
  if (!refused) {
    fuzz::require(r.cookie.find(kSecrets.cookie) != std::string::npos, "the cookie opens, nothing else");
    fuzz::require(r.host == "127.0.0.1:4711" || r.host == "localhost:4711", "the name is ours");
  }
  Request write = r;
  write.method = "POST";
  fuzz::require(Gate(4711, kSecrets).check(write, t).has_value(),
                "without the page's secret nothing is written");
  return !refused || refused->status == 303;
}

bool decided(const std::string& body) {
  const auto d = parse_decision(body, kFrames);
  if (!d) return false;
  fuzz::require(!d->frames.empty() && std::is_sorted(d->frames.begin(), d->frames.end()),
                "frames are in order");
  fuzz::require(std::adjacent_find(d->frames.begin(), d->frames.end()) == d->frames.end(), "each frame once");
  fuzz::require(d->frames.front() >= 1 && d->frames.back() <= kFrames, "every frame is there");
  fuzz::require(!d->rating || (d->verdict == Verdict::keep && *d->rating >= 1 && *d->rating <= 5),
                "stars are for keeps");
  return true;
}

}  // namespace

int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  std::string_view rest(reinterpret_cast<const char*>(data), size);
  Request r;
  r.method = "GET";
  r.target = line_of(rest);
  r.host = line_of(rest);
  r.cookie = line_of(rest);
  r.body = std::string(rest);
  std::string out;
  if (const auto target = parse_target(r.target)) {
    require_plain(*target);
    out += let_in(r, *target) ? "let in" : "kept out";
  } else {
    out += "no address";
  }
  out += decided(r.body) ? ", a decision" : ", no decision";
  fuzz::came_out(out);
  return 0;
}
