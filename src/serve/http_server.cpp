#include <boost/asio/io_context.hpp>
#include <boost/asio/ip/tcp.hpp>
#include <boost/asio/post.hpp>
#include <boost/asio/steady_timer.hpp>
#include <boost/beast/core.hpp>
#include <boost/beast/http.hpp>
#include <chrono>
#include <optional>

#include "burstsieve/serve/http.h"

namespace burstsieve::serve {
namespace {

namespace asio = boost::asio;
namespace beast = boost::beast;
namespace http = boost::beast::http;
using asio::ip::tcp;
using Failure = boost::system::error_code;

// Refused bytes read off, so that the refusal is not lost to a reset; then the connection is closed anyway.
constexpr std::size_t kDrainBytes = 1 << 20;
constexpr std::chrono::seconds kDrainTime{2};
// What a reply weighs beside its body.
constexpr std::size_t kReplyOverhead = 1024;

std::chrono::milliseconds milliseconds(double seconds) {
  return std::chrono::milliseconds(static_cast<std::int64_t>(seconds * 1000));
}

// What all connections share; used on the server's thread only.
struct Shared {
  HttpLimits limits;
  Handler handler;
  int connections = 0;
  std::size_t waiting = 0;  // bytes
};

using Message = http::response<http::string_body>;

std::shared_ptr<Message> message_of(Reply reply, bool close) {
  auto m = std::make_shared<Message>();
  m->version(11);
  m->result(static_cast<unsigned>(reply.status));
  m->set(http::field::content_type, reply.type);
  for (const auto& [name, value] : reply.headers) m->set(name, value);
  // Every reply, refusals too: nothing is kept, nothing is guessed, nothing foreign is loaded or may load it.
  m->set(http::field::cache_control, "no-store");
  m->set("X-Content-Type-Options", "nosniff");
  m->set("Referrer-Policy", "no-referrer");
  m->set("Cross-Origin-Resource-Policy", "same-origin");
  m->set("Cross-Origin-Opener-Policy", "same-origin");
  if (m->find("Content-Security-Policy") == m->end())
    m->set(
        "Content-Security-Policy",
        "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' blob:; connect-src 'self'; "
        "base-uri 'none'; form-action 'none'; frame-ancestors 'none'");
  m->keep_alive(!close);
  m->body() = std::move(reply.body);
  m->prepare_payload();
  return m;
}

std::string single(const http::request<http::string_body>& r, std::string_view name) {
  const auto range = r.equal_range(beast::string_view(name.data(), name.size()));
  if (range.first == range.second || std::next(range.first) != range.second) return {};
  return std::string(range.first->value());
}

Request request_of(http::request<http::string_body>&& r) {
  Request out;
  out.method = std::string(r.method_string());
  out.target = std::string(r.target());
  out.host = single(r, "Host");
  out.origin = single(r, "Origin");
  out.cookie = single(r, "Cookie");
  out.content_type = single(r, "Content-Type");
  out.token = single(r, "X-Burstsieve-Token");
  out.fetch_site = single(r, "Sec-Fetch-Site");
  out.body = std::move(r.body());
  return out;
}

int status_of(const Failure& e) {
  if (e == http::error::header_limit || e == http::error::buffer_overflow) return 431;
  if (e == http::error::body_limit) return 413;
  return 400;
}

const char* words_of(int status) {
  if (status == 431) return "the request's header is too long";
  if (status == 413) return "the request's body is too long";
  return "this is no request that can be read";
}

// One connection: a request, its reply, the next.
class Connection : public std::enable_shared_from_this<Connection> {
 public:
  Connection(tcp::socket socket, Shared& shared)
      : stream_(std::move(socket)), shared_(shared), buffer_(2 * shared.limits.header_bytes) {
    ++shared_.connections;
  }
  ~Connection() { --shared_.connections; }
  Connection(const Connection&) = delete;
  Connection& operator=(const Connection&) = delete;

  void read() {
    parser_.emplace();
    parser_->header_limit(static_cast<std::uint32_t>(shared_.limits.header_bytes));
    parser_->body_limit(shared_.limits.body_bytes);
    const HttpLimits& l = shared_.limits;
    stream_.expires_after(milliseconds(trusted_ ? l.next_seconds : l.first_seconds));
    http::async_read(stream_, buffer_, *parser_,
                     [self = shared_from_this()](const Failure& e, std::size_t) { self->was_read(e); });
  }

 private:
  void was_read(const Failure& e) {
    if (!e) {
      close_ = !parser_->get().keep_alive();
      Request request = request_of(parser_->release());
      // The socket's thread answers, whoever calls; a second answer to one question is dropped.
      auto answered = std::make_shared<std::atomic<bool>>(false);
      shared_.handler(std::move(request), [self = shared_from_this(), answered](Reply reply) {
        if (answered->exchange(true)) return;
        asio::post(self->stream_.get_executor(),
                   [self, reply = std::move(reply)]() mutable { self->write(std::move(reply)); });
      });
      return;
    }
    // Only what the parser itself refused is worth a word; the rest is a peer that went away or was too slow.
    if (e.category() != http::make_error_code(http::error::end_of_stream).category() ||
        e == http::error::end_of_stream || e == http::error::partial_message)
      return;
    close_ = true;
    const int status = status_of(e);
    write(refusal(status, words_of(status)));
  }

  void write(Reply reply) {
    const std::size_t weight = reply.body.size() + kReplyOverhead;
    if (shared_.waiting + weight > shared_.limits.waiting_bytes && weight > 2 * kReplyOverhead)
      return write(refusal(503, "too many pictures are on their way; try again"));
    // A stranger is answered once.
    if (reply.status >= 400 && !trusted_) close_ = true;
    trusted_ = trusted_ || reply.status < 400;
    const auto message = message_of(std::move(reply), close_);
    shared_.waiting += weight;
    stream_.expires_after(milliseconds(shared_.limits.write_seconds));
    http::async_write(stream_, *message,
                      [self = shared_from_this(), message, weight](const Failure& e, std::size_t) {
                        self->shared_.waiting -= weight;
                        if (e) return;
                        self->close_ ? self->finish() : self->read();
                      });
  }

  void finish() {
    Failure ignored;
    stream_.socket().shutdown(tcp::socket::shutdown_send, ignored);
    stream_.expires_after(kDrainTime);
    drain();
  }
  void drain() {
    stream_.async_read_some(asio::buffer(drained_),
                            [self = shared_from_this()](const Failure& e, std::size_t n) {
                              self->drain_total_ += n;
                              if (!e && self->drain_total_ < kDrainBytes) self->drain();
                            });
  }

  beast::tcp_stream stream_;
  Shared& shared_;
  beast::flat_buffer buffer_;
  std::optional<http::request_parser<http::string_body>> parser_;
  std::array<char, 4096> drained_{};
  std::size_t drain_total_ = 0;
  bool close_ = false;
  bool trusted_ = false;  // has been answered with more than a refusal
};

class LoopbackServer final : public HttpServer {
 public:
  LoopbackServer(const HttpLimits& limits, Handler handler, std::function<void()> tick)
      : shared_{limits, std::move(handler)}, tick_(std::move(tick)) {}

  ~LoopbackServer() override {
    // What others still hold to answer with goes first: connections use shared_.
    work_.stop();
  }

  Failure open(int port) {
    Failure e;
    const tcp::endpoint here(asio::ip::address_v4::loopback(), static_cast<std::uint16_t>(port));
    acceptor_.open(here.protocol(), e);
    if (!e) acceptor_.set_option(tcp::acceptor::reuse_address(true), e);
    if (!e) acceptor_.bind(here, e);
    if (!e) acceptor_.listen(tcp::acceptor::max_listen_connections, e);
    return e;
  }

  int port() const override {
    Failure e;
    return acceptor_.local_endpoint(e).port();
  }

  void run(const std::atomic<bool>& stop) override {
    accept();
    tick(stop);
    work_.run();
  }

 private:
  void accept() {
    acceptor_.async_accept([this](const Failure& e, tcp::socket socket) {
      if (e == asio::error::operation_aborted) return;
      if (e) return accept_later();  // out of descriptors, perhaps
      if (shared_.connections < shared_.limits.connections) {
        Failure ignored;
        socket.set_option(tcp::no_delay(true), ignored);
        std::make_shared<Connection>(std::move(socket), shared_)->read();
      }
      accept();
    });
  }
  void accept_later() {
    pause_.expires_after(std::chrono::milliseconds(100));
    pause_.async_wait([this](const Failure& e) {
      if (!e) accept();
    });
  }
  void tick(const std::atomic<bool>& stop) {
    timer_.expires_after(std::chrono::milliseconds(100));
    timer_.async_wait([this, &stop](const Failure& e) {
      if (e) return;
      if (stop) return work_.stop();
      if (tick_) tick_();
      tick(stop);
    });
  }

  Shared shared_;  // before the context: connections end with it
  std::function<void()> tick_;
  asio::io_context work_;
  tcp::acceptor acceptor_{work_};
  asio::steady_timer timer_{work_}, pause_{work_};
};

}  // namespace

Result<std::unique_ptr<HttpServer>> HttpServer::listen(int port, const HttpLimits& limits, Handler handler,
                                                       std::function<void()> tick) {
  auto server = std::make_unique<LoopbackServer>(limits, std::move(handler), std::move(tick));
  if (const Failure e = server->open(port); e)
    return Error{Cause::io, "127.0.0.1:" + std::to_string(port), "can't be listened on: " + e.message()};
  return std::unique_ptr<HttpServer>(std::move(server));
}

}  // namespace burstsieve::serve
