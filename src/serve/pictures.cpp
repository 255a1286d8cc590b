#include "pictures.h"

#include <algorithm>
#include <exception>
#include <utility>

#include "burstsieve/base/text.h"

namespace burstsieve::serve {
namespace {

// A page asks for some tens at a time.
constexpr std::size_t kMostWaiting = 512;

}  // namespace

Pictures::Pictures(const pipeline::EngineOptions& options, int threads, const Limits& limits)
    : options_(options), threads_(threads), limits_(limits), thread_([this] { work(); }) {}

Pictures::~Pictures() {
  {
    const std::lock_guard lock(mutex_);
    closed_ = true;
    changed_.notify_one();
  }
  thread_.join();
}

void Pictures::ask(pipeline::RenderTask task, Respond respond) {
  {
    const std::lock_guard lock(mutex_);
    if (!closed_ && waiting_.size() < kMostWaiting) {
      waiting_.push_back({std::move(task), std::move(respond)});
      changed_.notify_one();
      return;
    }
  }
  respond(refusal(503, "too many pictures were asked for; try again"));
}

std::deque<Pictures::Waiting> Pictures::take() {
  std::unique_lock lock(mutex_);
  changed_.wait(lock, [this] { return closed_ || !waiting_.empty(); });
  std::deque<Waiting> out;
  if (closed_) return out;
  const auto most = static_cast<std::size_t>(std::max(1, pipeline::thread_count(threads_)));
  while (!waiting_.empty() && out.size() < most) {
    out.push_back(std::move(waiting_.front()));
    waiting_.pop_front();
  }
  return out;
}

Status Pictures::make_ready() {
  if (engine_ && engine_->status()) return Done{};
  engine_.reset();
  auto made = pipeline::make_engine(options_, threads_, limits_);
  if (!made) return made.error();
  engine_ = std::move(*made);
  return Done{};
}

void Pictures::work() {
  // Before the first picture is asked for; what goes wrong is said when one is.
  static_cast<void>(make_ready());
  for (;;) {
    auto batch = take();
    if (batch.empty()) break;
    try {
      answer(batch);
    } catch (const std::exception& e) {
      for (Waiting& w : batch) w.respond(refusal(503, std::string("could not be shown: ") + e.what()));
    }
  }
  engine_.reset();
}

void Pictures::answer(std::deque<Waiting>& batch) {
  if (const auto s = make_ready(); !s) {
    for (Waiting& w : batch) w.respond(refusal(503, s.error().text));
    return;
  }
  std::vector<pipeline::RenderTask> tasks;
  for (Waiting& w : batch) tasks.push_back(w.task);
  auto pictures = engine_->render(tasks);
  for (std::size_t i = 0; i < batch.size(); ++i) {
    if (!pictures[i]) {
      batch[i].respond(refusal(404, "can't be shown: " + pictures[i].error().text));
      continue;
    }
    const auto& jpeg = pictures[i]->jpeg;
    // What an answer is worth once the engine can't go on.
    if (jpeg.empty()) {
      batch[i].respond(refusal(503, "the engine can't go on"));
      continue;
    }
    Reply out{200, "image/jpeg", std::string(jpeg.begin(), jpeg.end()), {}};
    batch[i].respond(std::move(out));
  }
}

}  // namespace burstsieve::serve
