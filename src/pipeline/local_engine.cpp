#include <tbb/global_control.h>
#include <tbb/parallel_for.h>

#include <algorithm>
#include <exception>
#include <thread>
#include <utility>

#include "burstsieve/base/text.h"
#include "burstsieve/decode/metadata.h"
#include "burstsieve/image/process.h"
#include "burstsieve/pipeline/engine.h"
#include "burstsieve/subject/detector.h"
#include "frame_flow.h"
#include "identify.h"
#include "render_desk.h"

namespace burstsieve::pipeline {
namespace {

class Unobserved final : public EngineObserver {
  void begin(std::uint64_t, std::uint32_t, Step, const std::string&) override {}
  void end(std::uint64_t, std::uint32_t, Step) override {}
};

class LocalEngine final : public Engine {
 public:
  LocalEngine(int threads, const Limits& limits, EngineObserver* observer,
              std::shared_ptr<subject::DetectorPool> detectors)
      : limits_(limits),
        threads_(thread_count(threads)),
        control_(tbb::global_control::max_allowed_parallelism, static_cast<std::size_t>(threads_)),
        observer_(observer ? *observer : unobserved_),
        detectors_(std::move(detectors)),
        flow_([this] { work(); }) {}

  ~LocalEngine() override {
    cancelled_ = true;
    queue_.close();
    flow_.join();
  }

  std::vector<Result<Identity>> identify(const std::vector<Candidate>& files) override {
    return each<Identity>(files, Step::identity,
                          [this](const Candidate& f) { return identify_file(f, limits_); });
  }

  std::vector<Result<Capture>> read_captures(const std::vector<FileRef>& files) override {
    return each<Capture>(files, Step::capture,
                         [this](const FileRef& f) { return decode::read_capture(f, limits_); });
  }

  std::vector<Result<Rendering>> render(const std::vector<RenderTask>& tasks) override {
    return each<Rendering>(tasks, Step::picture, [this](const RenderTask& t) { return desk_.render(t); });
  }

  void submit(BurstTask task) override { queue_.push({tasks_++, std::move(task)}); }

  Result<std::optional<BurstFacts>> next(const std::function<void()>& frame_done,
                                         const std::atomic<bool>* stop) override {
    while (auto event = events_.wait(stop)) {
      if (event->burst) return std::optional(std::move(*event->burst));
      if (frame_done) frame_done();
    }
    return std::optional<BurstFacts>{};
  }

  Status status() const override { return Done{}; }
  int threads() const override { return threads_; }
  std::string detector() const override { return detectors_ ? subject::detector_identity() : std::string(); }
  std::vector<Error> take_notes() override { return {}; }

 private:
  void work() {
    while (queue_.wait() && !cancelled_)
      drain(queue_, events_, threads_, limits_, detectors_.get(), observer_, cancelled_);
  }

  template <class Answer, class File, class Ask>
  std::vector<Result<Answer>> each(const std::vector<File>& files, Step step, Ask ask) {
    const std::uint64_t task = tasks_++;
    std::vector<Result<Answer>> out(files.size(), Answer{});
    tbb::parallel_for(std::size_t{0}, files.size(), [&](std::size_t i) {
      const auto item = static_cast<std::uint32_t>(i);
      observer_.begin(task, item, step, path_of(files[i]));
      try {
        out[i] = ask(files[i]);
      } catch (const std::exception& e) {
        out[i] = Error{Cause::memory, path_of(files[i]), "could not be read (" + one_line(e.what()) + ")"};
      }
      observer_.end(task, item, step);
    });
    return out;
  }

  const Limits limits_;
  const int threads_;
  tbb::global_control control_;
  Unobserved unobserved_;
  EngineObserver& observer_;
  const std::shared_ptr<subject::DetectorPool> detectors_;
  std::atomic<std::uint64_t> tasks_{0};
  BurstQueue queue_;
  FlowEvents events_;
  RenderDesk desk_{limits_};
  std::atomic<bool> cancelled_{false};
  std::thread flow_;  // last: it uses the others
};

}  // namespace

int thread_count(int threads) {
  return threads > 0 ? threads : std::max(1, static_cast<int>(std::thread::hardware_concurrency()));
}

std::unique_ptr<Engine> make_local_engine(int threads, const Limits& limits, EngineObserver* observer,
                                          std::shared_ptr<subject::DetectorPool> detectors) {
  image::prepare_process();
  return std::make_unique<LocalEngine>(threads, limits, observer, std::move(detectors));
}

}  // namespace burstsieve::pipeline
