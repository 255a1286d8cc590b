#include "burstsieve/serve/gate.h"

#include <fmt/format.h>
#include <sys/random.h>

#include <array>
#include <charconv>
#include <cmath>

#include "burstsieve/base/text.h"

namespace burstsieve::serve {
namespace {

constexpr std::size_t kMaxTarget = 2048;
constexpr std::size_t kMaxParameters = 16;

Result<std::string> random_hex() {
  std::array<std::uint8_t, 16> bytes{};
  if (::getrandom(bytes.data(), bytes.size(), 0) != static_cast<ssize_t>(bytes.size()))
    return Error{Cause::io, {}, "the system gave no random numbers"};
  std::string out;
  for (const std::uint8_t b : bytes) out += fmt::format("{:02x}", b);
  return out;
}

bool plain(std::string_view text) {
  for (const char c : text)
    if (static_cast<unsigned char>(c) <= 0x20 || static_cast<unsigned char>(c) >= 0x7f) return false;
  return true;
}

bool writes(const std::string& method) {
  return method != "GET";
}

}  // namespace

Result<Secrets> make_secrets() {
  Secrets out;
  for (std::string* s : {&out.address, &out.cookie, &out.page}) {
    auto made = random_hex();
    if (!made) return made.error();
    *s = *made;
  }
  return out;
}

bool same_secret(std::string_view a, std::string_view b) {
  if (a.size() != b.size()) return false;
  unsigned difference = 0;
  for (std::size_t i = 0; i < a.size(); ++i)
    difference |= static_cast<unsigned>(static_cast<unsigned char>(a[i]) ^ static_cast<unsigned char>(b[i]));
  return difference == 0 && !a.empty();
}

std::optional<Target> parse_target(std::string_view text) {
  if (text.empty() || text[0] != '/' || text.size() > kMaxTarget || !plain(text)) return std::nullopt;
  const auto mark = text.find('?');
  Target out;
  out.path = text.substr(0, mark);
  if (mark == std::string_view::npos) return out;
  std::string_view rest = text.substr(mark + 1);
  while (!rest.empty()) {
    const auto end = rest.find('&');
    const std::string_view pair = rest.substr(0, end);
    rest = end == std::string_view::npos ? std::string_view() : rest.substr(end + 1);
    const auto equals = pair.find('=');
    const auto name = percent_unescaped(pair.substr(0, equals));
    const auto value =
        percent_unescaped(equals == std::string_view::npos ? std::string_view() : pair.substr(equals + 1));
    if (!name || !value || name->empty()) return std::nullopt;
    if (out.query.size() >= kMaxParameters || !out.query.emplace(*name, *value).second) return std::nullopt;
  }
  return out;
}

std::optional<std::uint32_t> parse_id(std::string_view text, std::uint32_t most) {
  if (text.empty() || text.size() > 9 || (text[0] == '0' && text.size() > 1)) return std::nullopt;
  std::uint32_t value = 0;
  for (const char c : text) {
    if (c < '0' || c > '9') return std::nullopt;
    value = value * 10 + static_cast<std::uint32_t>(c - '0');
  }
  if (value > most) return std::nullopt;
  return value;
}

std::optional<double> parse_fraction(std::string_view text) {
  double value = 0;
  const char* end = text.data() + text.size();
  const auto [at, failed] = std::from_chars(text.data(), end, value, std::chars_format::fixed);
  if (text.empty() || text.size() > 32 || failed != std::errc() || at != end || !std::isfinite(value))
    return std::nullopt;
  return value;
}

Gate::Gate(int port, Secrets secrets)
    : port_(port), secrets_(std::move(secrets)), cookie_name_(fmt::format("burstsieve_{}", port)) {}

std::string Gate::address() const {
  return fmt::format("http://127.0.0.1:{}/?t={}", port_, secrets_.address);
}

bool Gate::our_host(std::string_view host) const {
  return host == fmt::format("127.0.0.1:{}", port_) || host == fmt::format("localhost:{}", port_);
}

bool Gate::has_cookie(std::string_view header) const {
  bool found = false;
  while (!header.empty()) {
    const auto end = header.find(';');
    const std::string pair = trimmed(header.substr(0, end));
    header = end == std::string_view::npos ? std::string_view() : header.substr(end + 1);
    const auto equals = pair.find('=');
    if (equals == std::string::npos || pair.substr(0, equals) != cookie_name_) continue;
    found = found || same_secret(std::string_view(pair).substr(equals + 1), secrets_.cookie);
  }
  return found;
}

std::optional<Reply> Gate::check(const Request& r, const Target& target) const {
  if (!our_host(r.host)) return refusal(403, "this address is not the review's");
  if (r.method != "GET" && r.method != "POST") return refusal(405, "only GET and POST are answered");
  if (const auto given = target.query.find("t");
      target.path == "/" && r.method == "GET" && given != target.query.end()) {
    if (!same_secret(given->second, secrets_.address))
      return refusal(403, "this address is of an earlier start; open the one that burstsieve printed last");
    Reply out{303, "text/plain; charset=utf-8", "", {}};
    out.headers.emplace_back("Location", "/");
    out.headers.emplace_back("Set-Cookie",
                             cookie_name_ + "=" + secrets_.cookie + "; Path=/; HttpOnly; SameSite=Strict");
    return out;
  }
  if (!has_cookie(r.cookie)) return refusal(403, "open the address that burstsieve printed on the terminal");
  if (!r.fetch_site.empty() && r.fetch_site != "same-origin" && r.fetch_site != "none")
    return refusal(403, "only the review's own page is answered");
  if (!writes(r.method)) return std::nullopt;
  if (r.origin != "http://" + r.host) return refusal(403, "only the review's own page may change anything");
  if (!same_secret(r.token, secrets_.page)) return refusal(403, "the page is of an earlier start; reload it");
  if (!r.content_type.starts_with("application/json")) return refusal(400, "JSON is expected");
  return std::nullopt;
}

}  // namespace burstsieve::serve
