// The engine's side of the pipe.
#include <sys/prctl.h>
#include <unistd.h>

#include <cerrno>
#include <condition_variable>
#include <csignal>
#include <cstdio>
#include <deque>
#include <exception>
#include <mutex>
#include <new>
#include <thread>
#include <utility>
#include <variant>

#include "burstsieve/decode/exiv2_gate.h"
#include "burstsieve/image/process.h"
#include "burstsieve/pipeline/engine_process.h"
#include "engine_detector.h"
#include "engine_records.h"
#include "sandbox.h"

namespace burstsieve::pipeline {
namespace {

constexpr int kPipe = STDIN_FILENO;  // both ways

// One record at a time, from any thread. A supervisor that is gone ends this process: nobody waits for it.
class Sender {
 public:
  void send(RecordKind kind, Bytes payload) {
    const ByteBuffer bytes = framed(kind, payload);
    const std::lock_guard lock(mutex_);
    std::size_t done = 0;
    while (done < bytes.size()) {
      const ssize_t n = ::write(kPipe, bytes.data() + done, bytes.size() - done);
      if (n < 0 && errno == EINTR) continue;
      if (n <= 0) ::_exit(0);
      done += static_cast<std::size_t>(n);
    }
  }

 private:
  std::mutex mutex_;
};

// Waits for the next record; nothing when the supervisor closed the pipe or talks nonsense.
class Receiver {
 public:
  std::optional<Record> next() {
    std::uint8_t chunk[65536];
    for (;;) {
      if (auto record = stream_.next()) return record;
      if (stream_.broken()) return std::nullopt;
      const ssize_t n = ::read(kPipe, chunk, sizeof chunk);
      if (n < 0 && errno == EINTR) continue;
      if (n <= 0) return std::nullopt;
      stream_.add(Bytes(chunk, static_cast<std::size_t>(n)));
    }
  }

 private:
  RecordStream stream_;
};

class Reporter final : public EngineObserver {
 public:
  Reporter(Sender& sender, EngineObserver* also) : sender_(sender), also_(also) {}
  void begin(std::uint64_t task, std::uint32_t item, Step step, const std::string& path) override {
    sender_.send(RecordKind::begin, encode(Place{task, item, step}));
    if (also_) also_->begin(task, item, step, path);
  }
  void end(std::uint64_t task, std::uint32_t item, Step step) override {
    if (also_) also_->end(task, item, step);
    sender_.send(RecordKind::end, encode(Place{task, item, step}));
  }

 private:
  Sender& sender_;
  EngineObserver* also_;
};

struct BurstOut {};
using Asked = std::variant<std::vector<Candidate>, std::vector<FileRef>, std::vector<RenderTask>, BurstOut>;

// What is still to be answered, in order.
class Inbox {
 public:
  void push(Asked asked) {
    const std::lock_guard lock(mutex_);
    waiting_.push_back(std::move(asked));
    changed_.notify_one();
  }
  Asked wait() {
    std::unique_lock lock(mutex_);
    changed_.wait(lock, [&] { return !waiting_.empty(); });
    Asked out = std::move(waiting_.front());
    waiting_.pop_front();
    return out;
  }

 private:
  std::mutex mutex_;
  std::condition_variable changed_;
  std::deque<Asked> waiting_;
};

// Takes everything off the pipe at once, so that the supervisor never waits to write. Bursts start at once,
// too.
void read_requests(Receiver& in, Engine& engine, Inbox& inbox) {
  while (auto record = in.next()) {
    std::vector<Candidate> candidates;
    std::vector<FileRef> files;
    std::vector<RenderTask> renders;
    BurstTask task;
    if (record->kind == RecordKind::candidates && decode(record->payload, candidates)) {
      inbox.push(std::move(candidates));
    } else if (record->kind == RecordKind::files && decode(record->payload, files)) {
      inbox.push(std::move(files));
    } else if (record->kind == RecordKind::renders && decode(record->payload, renders)) {
      inbox.push(std::move(renders));
    } else if (record->kind == RecordKind::burst && decode(record->payload, task)) {
      engine.submit(std::move(task));
      inbox.push(BurstOut{});
    } else {
      break;
    }
  }
  ::_exit(0);  // the supervisor is gone or done: so are we, whatever is in flight
}

template <class T>
std::vector<Answer<T>> as_answers(std::vector<Result<T>> results) {
  std::vector<Answer<T>> out;
  for (Result<T>& r : results) {
    if (r)
      out.push_back({std::move(*r), {}, {}});
    else
      out.push_back({std::nullopt, r.error().cause, r.error().text});
  }
  return out;
}

class Server {
 public:
  Server(Engine& engine, Sender& sender) : engine_(engine), sender_(sender) {}
  void operator()(const std::vector<Candidate>& files) {
    sender_.send(RecordKind::identities, encode(as_answers(engine_.identify(files))));
  }
  void operator()(const std::vector<FileRef>& files) {
    sender_.send(RecordKind::captures, encode(as_answers(engine_.read_captures(files))));
  }
  void operator()(const std::vector<RenderTask>& tasks) {
    sender_.send(RecordKind::renderings, encode(as_answers(engine_.render(tasks))));
  }
  void operator()(BurstOut) {
    auto burst = engine_.next([this] { sender_.send(RecordKind::frame_done, {}); }, nullptr);
    if (!burst || !*burst) ::_exit(3);
    for (FrameFacts& f : (*burst)->frames) {
      FactsRecord record;
      record.thumbnail = std::exchange(f.thumbnail, {});
      record.facts = std::move(f);
      sender_.send(RecordKind::facts, encode(record));
    }
    sender_.send(RecordKind::burst_done,
                 encode(BurstEnd{(*burst)->mosaics, (*burst)->passing, (*burst)->starved}));
  }

 private:
  Engine& engine_;
  Sender& sender_;
};

// Ctrl-C reaches every process of the terminal: the supervisor decides when we end.
void prepare_signals() {
  for (const int signal : {SIGINT, SIGTERM, SIGHUP}) std::signal(signal, SIG_IGN);
  ::prctl(PR_SET_PDEATHSIG, SIGKILL, 0, 0, 0);
}

int serve(EngineObserver* also) {
  prepare_signals();
  Receiver in;
  Hello hello;
  const auto first = in.next();
  if (!first || first->kind != RecordKind::hello || !decode(first->payload, hello)) {
    std::fputs("burstsieve: this is the engine process; it is started by burstsieve itself\n", stderr);
    return 2;
  }
  image::prepare_process();
  { const decode::Exiv2Gate warm; }  // its tables, before the limits
  auto detector = load_detector(hello.detector);
  Status guarded = lower_limits(hello.memory_bytes);
  if (const Status filtered = enter_sandbox(); guarded) guarded = filtered;
  Sender sender;
  sender.send(RecordKind::ready, encode(Ready{static_cast<bool>(guarded), guarded ? "" : guarded.error().text,
                                              detector.identity(), detector.why_not}));

  Reporter reporter(sender, also);
  const auto engine = make_local_engine(hello.threads, hello.limits, &reporter, std::move(detector.pool));
  Inbox inbox;
  std::thread([&] { read_requests(in, *engine, inbox); }).detach();
  Server server(*engine, sender);
  for (;;) std::visit(server, inbox.wait());
}

}  // namespace

int serve_engine(EngineObserver* also) {
  try {
    return serve(also);
  } catch (const std::exception& e) {
    std::fprintf(stderr, "burstsieve: engine process: %s\n", e.what());
    return 3;
  }
}

}  // namespace burstsieve::pipeline
