// Who may ask, and what a request may look like. Any page in the photographer's browser, and any program on
// the machine, can reach the port; only the page that we served may be answered.
//
// - Host must be ours by name: a foreign name that leads to 127.0.0.1 (DNS rebinding) is refused.
// - The address printed on the terminal carries a secret once; from then on a cookie does (HttpOnly,
//   SameSite=Strict), so that the secret stays out of addresses, logs and referrers.
// - A request that changes something needs our Origin, and a second secret that only the page knows.
// - Browsers say from where a request comes (Sec-Fetch-Site, W3C Fetch Metadata); another place is refused,
//   other ports of this host included, which cookies do not tell apart.
#pragma once
#include <cstdint>
#include <map>
#include <optional>
#include <string>
#include <string_view>

#include "burstsieve/base/result.h"
#include "burstsieve/serve/http.h"

namespace burstsieve::serve {

// 128 random bits each, as hexadecimal digits.
struct Secrets {
  std::string address;  // in the printed address
  std::string cookie;
  std::string page;  // in the page, sent with writes
};
// Cause::io when the system has no random bytes.
Result<Secrets> make_secrets();

// "/crop/7?x=.5" in its parts.
struct Target {
  std::string path;                          // begins with '/'; not decoded: no name of ours needs it
  std::map<std::string, std::string> query;  // decoded
};
// Nothing for more than 2,048 bytes, 16 parameters, a parameter twice, a bad escape, control characters.
std::optional<Target> parse_target(std::string_view text);

// "7" → 7. Digits only, no sign, no leading zero, at most `most`.
std::optional<std::uint32_t> parse_id(std::string_view text, std::uint32_t most);
// "0.25" and the like: finite, no exponent, no sign but '-'.
std::optional<double> parse_fraction(std::string_view text);

class Gate {
 public:
  Gate(int port, Secrets secrets);

  // Nothing: let it in. Else the refusal, or for the printed address the cookie and a way on to "/".
  std::optional<Reply> check(const Request& request, const Target& target) const;
  std::string address() const;  // what to open
  const std::string& page_secret() const { return secrets_.page; }

 private:
  bool our_host(std::string_view host) const;
  bool has_cookie(std::string_view header) const;
  int port_;
  Secrets secrets_;
  std::string cookie_name_;  // with the port: cookies are shared by all ports of a host
};

// Compares without telling by its time where they differ.
bool same_secret(std::string_view a, std::string_view b);

}  // namespace burstsieve::serve
