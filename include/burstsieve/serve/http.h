// A small HTTP server on this machine's loopback address: what it hears, what it answers, what it never does.
// It reads whole requests within limits of size and time, one connection never waiting for another, and
// hands them to one function. It knows no file.
#pragma once
#include <atomic>
#include <cstddef>
#include <functional>
#include <memory>
#include <string>
#include <utility>
#include <vector>

#include "burstsieve/base/result.h"

namespace burstsieve::serve {

// The parts of a request that anything here depends on. A field that came twice counts as absent.
struct Request {
  std::string method;  // "GET", as sent
  std::string target;  // path and query, as sent
  std::string host, origin, cookie, content_type;
  std::string token;       // X-Burstsieve-Token
  std::string fetch_site;  // Sec-Fetch-Site
  std::string body;
};

struct Reply {
  int status = 200;
  std::string type = "application/json";
  std::string body;
  std::vector<std::pair<std::string, std::string>> headers = {};  // beside those that every reply has
};

// {"error": text}, one line.
Reply refusal(int status, const std::string& text);

// To be called once, from any thread; a second call does nothing.
using Respond = std::function<void(Reply)>;
// Called on the server's thread: must not wait for anything.
using Handler = std::function<void(Request, Respond)>;

struct HttpLimits {
  std::size_t header_bytes = 16 * 1024;  // a browser sends 1 KB, and its cookies of this host
  std::size_t body_bytes = 1 << 20;      // a decision on 10,000 frames takes 80 KB
  // A browser opens 6 to a host; beyond this many, new ones are closed at once.
  int connections = 256;
  double first_seconds = 10;              // from the connection to its whole first request
  double next_seconds = 60;               // to the next one, waiting included
  double write_seconds = 30;              // for one whole reply; the largest has some MB
  std::size_t waiting_bytes = 128 << 20;  // replies on their way to slow readers, together
};

class HttpServer {
 public:
  // Listens on 127.0.0.1. port: 0 for any free one. Cause::io when it is taken. `tick`: called ten times a
  // second on the server's thread.
  static Result<std::unique_ptr<HttpServer>> listen(int port, const HttpLimits& limits, Handler handler,
                                                    std::function<void()> tick = {});
  virtual ~HttpServer() = default;
  virtual int port() const = 0;
  // Serves, on this thread, until `stop` (looked at ten times a second).
  virtual void run(const std::atomic<bool>& stop) = 0;
};

}  // namespace burstsieve::serve
