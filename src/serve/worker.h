// A thread that does one thing after another.
#pragma once
#include <condition_variable>
#include <cstddef>
#include <deque>
#include <functional>
#include <mutex>
#include <thread>
#include <utility>

namespace burstsieve::serve {

class Worker {
 public:
  explicit Worker(std::size_t most) : most_(most), thread_([this] { work(); }) {}
  ~Worker() { finish(); }
  Worker(const Worker&) = delete;
  Worker& operator=(const Worker&) = delete;

  // False, and nothing will happen, when `most` jobs are waiting already.
  bool post(std::function<void()> job) {
    const std::lock_guard lock(mutex_);
    if (closed_ || jobs_.size() >= most_) return false;
    jobs_.push_back(std::move(job));
    changed_.notify_one();
    return true;
  }
  // What is under way is finished; what waits is forgotten.
  void finish() {
    {
      const std::lock_guard lock(mutex_);
      closed_ = true;
      changed_.notify_one();
    }
    if (thread_.joinable()) thread_.join();
  }

 private:
  void work() {
    for (;;) {
      std::unique_lock lock(mutex_);
      changed_.wait(lock, [this] { return closed_ || !jobs_.empty(); });
      if (closed_) return;
      const auto job = std::move(jobs_.front());
      jobs_.pop_front();
      lock.unlock();
      job();
    }
  }

  const std::size_t most_;
  std::mutex mutex_;
  std::condition_variable changed_;
  std::deque<std::function<void()>> jobs_;
  bool closed_ = false;
  std::thread thread_;  // last: it uses the others
};

}  // namespace burstsieve::serve
