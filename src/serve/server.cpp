#include "burstsieve/serve/server.h"

#include <fmt/format.h>

#include <chrono>
#include <list>
#include <string_view>
#include <utility>

#include "assets.h"
#include "burstsieve/base/text.h"
#include "pictures.h"
#include "worker.h"

namespace burstsieve::serve {
namespace {

constexpr std::size_t kMostJobs = 4096;
constexpr std::size_t kMostWaiters = 32;  // tabs that wait for news; more are answered at once
constexpr int kThumbnailSide = 320;       // as FrameFacts::thumbnail
constexpr int kQuality = 88;

const char* type_of(std::string_view name) {
  if (name.ends_with(".js")) return "text/javascript; charset=utf-8";
  if (name.ends_with(".css")) return "text/css; charset=utf-8";
  if (name.ends_with(".svg")) return "image/svg+xml";
  if (name.ends_with(".html")) return "text/html; charset=utf-8";
  return "application/octet-stream";
}

const Asset* asset(std::string_view name) {
  for (const Asset& a : assets())
    if (a.name == name) return &a;
  return nullptr;
}

bool take_prefix(std::string_view& text, std::string_view prefix) {
  if (!text.starts_with(prefix)) return false;
  text.remove_prefix(prefix.size());
  return true;
}

// Of the whole or a part of a frame, as the query asks. Nothing for nonsense.
struct Wanted {
  Region region{0, 0, 1, 1};
  int side = 1600;
};
std::optional<Wanted> wanted_of(const Target& t, bool crop) {
  Wanted out;
  const auto find = [&](const char* name) -> std::optional<std::string> {
    const auto there = t.query.find(name);
    return there == t.query.end() ? std::nullopt : std::optional(there->second);
  };
  if (const auto side = find("side")) {
    const auto n = parse_id(*side, pipeline::kMaxRenderSide);
    if (!n || *n < 1) return std::nullopt;
    out.side = static_cast<int>(*n);
  }
  if (!crop) return out;
  for (const auto& [name, to] : {std::pair{"x", &out.region.x}, std::pair{"y", &out.region.y},
                                 std::pair{"w", &out.region.w}, std::pair{"h", &out.region.h}}) {
    const auto text = find(name);
    const auto value = text ? parse_fraction(*text) : std::nullopt;
    if (!value || *value < -2 || *value > 3) return std::nullopt;
    *to = *value;
  }
  if (clamped(out.region).empty()) return std::nullopt;
  return out;
}

class ReviewServer final : public Server {
 public:
  ReviewServer(ServerOptions options, const pipeline::CullOptions& cull, Review& review, Catalog& thumbnails)
      : options_(std::move(options)),
        review_(review),
        thumbnails_(thumbnails),
        frames_(review.shoot().frames()),
        pictures_(without_detector(cull.engine), cull.threads, cull.limits) {}

  ~ReviewServer() override { end_threads(); }

  Status open() {
    auto secrets = options_.secrets ? Result<Secrets>(*options_.secrets) : make_secrets();
    if (!secrets) return secrets.error();
    auto http = HttpServer::listen(
        options_.port, options_.http,
        [this](Request r, Respond respond) { handle(std::move(r), std::move(respond)); },
        [this] {
          if (waiting_) desk_.post([this] { forget_late_waiters(); });
        });
    if (!http) return http.error();
    http_ = std::move(*http);
    gate_ = std::make_unique<Gate>(http_->port(), *secrets);
    return Done{};
  }

  std::string address() const override { return gate_->address(); }
  int port() const override { return http_->port(); }

  void run(const std::atomic<bool>& stop) override {
    http_->run(stop);
    end_threads();
  }

 private:
  static pipeline::EngineOptions without_detector(pipeline::EngineOptions o) {
    o.detector.clear();  // to show is not to measure
    o.detector_required = false;
    return o;
  }

  // In this order: the threads may hold what answers a connection, which must go before the server.
  void end_threads() {
    desk_.finish();
    shelf_.finish();
    waiters_.clear();
  }

  void handle(Request r, Respond respond) {
    const auto target = parse_target(r.target);
    if (!target) return respond(refusal(400, "this is no address that can be read"));
    if (auto refused = gate_->check(r, *target)) return respond(std::move(*refused));
    if (r.method == "POST")
      post(r, *target, std::move(respond));
    else
      get(*target, std::move(respond));
  }

  void post(const Request& r, const Target& target, Respond respond) {
    const auto changes = [&](auto what) {
      on_desk(std::move(respond), [this, body = r.body, what](const Respond& answer) {
        const std::int64_t before = review_.revision();
        answer(what(body));
        if (review_.revision() != before) tell_waiters();
      });
    };
    if (target.path == "/api/decide")
      return changes([this](const std::string& b) { return review_.decide(b); });
    if (target.path == "/api/undo") return changes([this](const std::string&) { return review_.undo(); });
    if (target.path == "/api/redo") return changes([this](const std::string&) { return review_.redo(); });
    if (target.path == "/api/done") return changes([this](const std::string& b) { return review_.done(b); });
    respond(refusal(known(target.path) ? 405 : 404, "there is nothing to change here"));
  }

  static bool known(std::string_view path) {
    for (const char* p : {"/api/", "/thumb/", "/full/", "/crop/", "/app/"})
      if (path.starts_with(p)) return true;
    return path == "/" || path == "/debrief";
  }

  void get(const Target& target, Respond respond) {
    std::string_view rest = target.path;
    if (rest == "/") return respond(index());
    if (take_prefix(rest, "/app/")) return respond(app_file(rest));
    if (take_prefix(rest, "/thumb/")) return picture(rest, target, Kind::thumb, std::move(respond));
    if (take_prefix(rest, "/full/")) return picture(rest, target, Kind::full, std::move(respond));
    if (take_prefix(rest, "/crop/")) return picture(rest, target, Kind::crop, std::move(respond));
    if (rest == "/debrief" && options_.debrief)
      return on_desk(std::move(respond),
                     [this](const Respond& answer) { answer(options_.debrief(review_.shoot())); });
    if (take_prefix(rest, "/api/")) return api(rest, target, std::move(respond));
    respond(refusal(404, "there is nothing here"));
  }

  void api(std::string_view rest, const Target& target, Respond respond) {
    if (rest == "shoot")
      return on_desk(std::move(respond), [this](const Respond& answer) { answer(review_.shoot_reply()); });
    if (rest == "changes") return changes(target, std::move(respond));
    if (take_prefix(rest, "frame/"))
      if (const auto id = parse_id(rest, frames_))
        return on_desk(std::move(respond),
                       [this, id](const Respond& answer) { answer(review_.frame_reply(*id)); });
    if (take_prefix(rest, "burst/") && rest.ends_with("/series")) {
      rest.remove_suffix(7);
      if (const auto id = parse_id(rest, review_.shoot().bursts()))
        return on_desk(std::move(respond),
                       [this, id](const Respond& answer) { answer(review_.series_reply(*id)); });
    }
    if (rest == "decide" || rest == "undo" || rest == "redo" || rest == "done")
      return respond(refusal(405, "this takes a POST"));
    respond(refusal(404, "there is nothing here"));
  }

  void on_desk(Respond respond, std::function<void(const Respond&)> job) {
    // Kept apart, so that a full desk can still be told.
    auto answer = std::make_shared<Respond>(std::move(respond));
    const auto run = [answer, job = std::move(job)] {
      try {
        job(*answer);
      } catch (const std::exception& e) {
        (*answer)(refusal(500, std::string("could not be done: ") + e.what()));
      }
    };
    if (!desk_.post(run)) (*answer)(refusal(503, "too much was asked for; try again"));
  }

  Reply index() const {
    const Asset* page = asset("index.html");
    if (!page) return refusal(404, "the page is not built into this program");
    std::string html(page->bytes);
    constexpr std::string_view mark = "@TOKEN@";
    if (const auto at = html.find(mark); at != std::string::npos)
      html.replace(at, mark.size(), gate_->page_secret());
    return {200, type_of("index.html"), std::move(html), {}};
  }

  static Reply app_file(std::string_view name) {
    const Asset* a = name == "index.html" ? nullptr : asset(name);
    if (!a) return refusal(404, "there is no such file");
    return {200, type_of(name), std::string(a->bytes), {}};
  }

  enum class Kind { thumb, full, crop };
  void picture(std::string_view rest, const Target& target, Kind kind, Respond respond) {
    const auto id = parse_id(rest, frames_);
    if (!id || *id < 1) return respond(refusal(404, "there is no such frame"));
    const auto wanted = wanted_of(target, kind == Kind::crop);
    if (!wanted) return respond(refusal(400, "x, y, w, h and side are expected"));
    // What the facts of a frame are is fixed; only its sidecars change, and those are not looked at here.
    const Frame& frame = review_.shoot().frame(*id).frame;
    pipeline::RenderTask task{frame, wanted->region, wanted->side, kQuality};
    if (kind != Kind::thumb) return pictures_.ask(std::move(task), std::move(respond));
    task.side = kThumbnailSide;
    auto answer = std::make_shared<Respond>(std::move(respond));
    if (!shelf_.post([this, answer, task] { thumbnail(task, *answer); }))
      (*answer)(refusal(503, "too many pictures were asked for; try again"));
  }

  void thumbnail(const pipeline::RenderTask& task, const Respond& answer) {
    const auto stored = thumbnails_.thumbnail_of(task.frame.main().path);
    if (!stored || stored->empty()) return pictures_.ask(task, answer);
    answer(Reply{200, "image/jpeg", std::string(stored->begin(), stored->end()), {}});
  }

  // A second tab: what has changed, at once or when it does.
  void changes(const Target& target, Respond respond) {
    const auto since_text = target.query.find("since");
    const auto since =
        since_text == target.query.end() ? std::nullopt : parse_id(since_text->second, 999'999'999);
    if (!since) return respond(refusal(400, "since=REVISION is expected"));
    const auto wait_text = target.query.find("wait");
    const bool wait = wait_text != target.query.end() && wait_text->second == "1";
    on_desk(std::move(respond), [this, since, wait](const Respond& answer) {
      forget_late_waiters();
      const auto revision = static_cast<std::int64_t>(*since);
      if (!wait || revision != review_.revision() || waiters_.size() >= kMostWaiters)
        return answer(review_.changes_reply(revision));
      waiters_.push_back({revision, std::chrono::steady_clock::now() + wait_time(), answer});
      waiting_ = true;
    });
  }

  std::chrono::milliseconds wait_time() const {
    return std::chrono::milliseconds(static_cast<std::int64_t>(options_.longest_wait_s * 1000));
  }

  void tell_waiters() {
    for (const Waiter& w : std::exchange(waiters_, {})) w.answer(review_.changes_reply(w.since));
  }
  void forget_late_waiters() {
    const auto now = std::chrono::steady_clock::now();
    waiters_.remove_if([&](const Waiter& w) {
      if (w.until > now) return false;
      w.answer(review_.changes_reply(w.since));
      return true;
    });
    waiting_ = !waiters_.empty();
  }
  struct Waiter {
    std::int64_t since;
    std::chrono::steady_clock::time_point until;
    Respond answer;
  };

  ServerOptions options_;
  Review& review_;
  Catalog& thumbnails_;
  const std::uint32_t frames_;
  std::unique_ptr<HttpServer> http_;
  std::unique_ptr<Gate> gate_;
  std::list<Waiter> waiters_;  // the desk's
  std::atomic<bool> waiting_{false};
  Pictures pictures_;
  Worker shelf_{kMostJobs};
  Worker desk_{kMostJobs};
};

}  // namespace

Result<std::unique_ptr<Server>> Server::start(const ServerOptions& options, const pipeline::CullOptions& cull,
                                              Review& review, Catalog& thumbnails) {
  auto server = std::make_unique<ReviewServer>(options, cull, review, thumbnails);
  if (auto s = server->open(); !s) return s.error();
  return std::unique_ptr<Server>(std::move(server));
}

}  // namespace burstsieve::serve
