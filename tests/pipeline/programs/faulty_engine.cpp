// The engine process, made to fail at files whose names say so: "at-picture-crash", "at-capture-hang", ...
#include <seccomp.h>
#include <sys/prctl.h>
#include <unistd.h>

#include <chrono>
#include <csignal>
#include <cstdio>
#include <cstdlib>
#include <mutex>
#include <string>
#include <thread>
#include <vector>

#include "burstsieve/pipeline/engine_process.h"

namespace {

using burstsieve::pipeline::Step;

const char* word(Step step) {
  switch (step) {
    case Step::identity:
      return "identity";
    case Step::capture:
      return "capture";
    case Step::picture:
      return "picture";
    case Step::mosaic:
      return "mosaic";
  }
  return "";
}

class Saboteur final : public burstsieve::pipeline::EngineObserver {
 public:
  void begin(std::uint64_t, std::uint32_t, Step step, const std::string& path) override {
    const auto asked = [&](const char* what) {
      return path.find(std::string("at-") + word(step) + "-" + what) != std::string::npos;
    };
    if (asked("crash")) {
      std::signal(SIGSEGV, SIG_DFL);  // the address sanitizer would make an exit of it
      std::raise(SIGSEGV);
    }
    if (asked("abort")) std::abort();
    if (asked("exit")) ::_exit(7);
    if (asked("hang"))
      for (;;) std::this_thread::sleep_for(std::chrono::seconds(1));
    if (asked("bomb")) eat_memory();
    // A decoder that was taken over and talks nonsense on the pipe.
    if (asked("babble") && ::write(STDIN_FILENO, "\xff\xff\xff\xff\xff", 5) != 5) ::_exit(8);
  }
  // What a bomb ate is given back when its file is done, as a decoder does that ran out of memory.
  void end(std::uint64_t, std::uint32_t, Step) override {
    const std::lock_guard lock(mutex_);
    for (void* p : eaten_) std::free(p);
    eaten_.clear();
  }

 private:
  void eat_memory() {
    const std::lock_guard lock(mutex_);
    eaten_.reserve(4'000'000);
    for (std::size_t size = 64u << 20; size >= 256; size /= 2)
      while (void* p = std::malloc(size)) eaten_.push_back(p);
  }
  std::mutex mutex_;
  std::vector<void*> eaten_;
};

// As on a system without the filter.
void refuse_filters() {
  const scmp_filter_ctx context = seccomp_init(SCMP_ACT_ALLOW);
  seccomp_rule_add(context, SCMP_ACT_ERRNO(ENOSYS), SCMP_SYS(seccomp), 0);
  seccomp_rule_add(context, SCMP_ACT_ERRNO(EINVAL), SCMP_SYS(prctl), 1, SCMP_A0(SCMP_CMP_EQ, PR_SET_SECCOMP));
  if (seccomp_load(context) != 0) std::fputs("no filter\n", stderr);
  seccomp_release(context);
}

}  // namespace

int main() {
  if (const char* ask = std::getenv("FAULTY_ENGINE_START"); ask && std::string(ask) == "die") {
    std::fputs("first line\nthe cable came off\n", stderr);
    return 9;
  }
  if (std::getenv("FAULTY_ENGINE_NO_FILTER")) refuse_filters();
  Saboteur saboteur;
  return burstsieve::pipeline::serve_engine(&saboteur);
}
