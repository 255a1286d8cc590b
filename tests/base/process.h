// Another program as a process that can be killed, and a look at what it leaves running.
#pragma once
#include <doctest/doctest.h>
#include <fcntl.h>
#include <signal.h>
#include <spawn.h>
#include <sys/wait.h>
#include <unistd.h>

#include <chrono>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <sstream>
#include <string>
#include <string_view>
#include <thread>
#include <vector>

namespace burstsieve::test {

// Leads a session of its own, so that whatever it starts can be found. HOME is `home`; no XDG folders.
class Process {
 public:
  Process(std::vector<std::string> words, const std::string& home, const std::string& out,
          const std::string& err) {
    std::vector<std::string> set{"HOME=" + home};
    for (char** e = environ; *e != nullptr; ++e)
      if (const std::string_view v = *e; !v.starts_with("HOME=") && !v.starts_with("XDG_"))
        set.emplace_back(v);
    posix_spawnattr_t how;
    posix_spawn_file_actions_t files;
    REQUIRE(::posix_spawnattr_init(&how) == 0);
    REQUIRE(::posix_spawn_file_actions_init(&files) == 0);
    ::posix_spawnattr_setflags(&how, POSIX_SPAWN_SETSID);
    ::posix_spawn_file_actions_addopen(&files, 0, "/dev/null", O_RDONLY, 0);
    ::posix_spawn_file_actions_addopen(&files, 1, out.c_str(), O_WRONLY | O_CREAT | O_TRUNC, 0644);
    ::posix_spawn_file_actions_addopen(&files, 2, err.c_str(), O_WRONLY | O_CREAT | O_TRUNC, 0644);
    const int code = ::posix_spawn(&pid_, words.front().c_str(), &files, &how, pointers(words).data(),
                                   pointers(set).data());
    ::posix_spawn_file_actions_destroy(&files);
    ::posix_spawnattr_destroy(&how);
    REQUIRE(code == 0);
  }
  Process(const Process&) = delete;
  Process& operator=(const Process&) = delete;
  ~Process() {
    if (pid_ > 0 && !ended_) {
      kill_now();
      wait();
    }
  }

  pid_t pid() const { return pid_; }
  // This process only, not what it started.
  void kill_now() const { ::kill(pid_, SIGKILL); }
  // Its exit code, or minus the signal that ended it.
  int wait() {
    int status = 0;
    REQUIRE(::waitpid(pid_, &status, 0) == pid_);
    ended_ = true;
    return WIFEXITED(status) ? WEXITSTATUS(status) : -WTERMSIG(status);
  }

 private:
  static std::vector<char*> pointers(std::vector<std::string>& words) {
    std::vector<char*> out;
    for (std::string& w : words) out.push_back(w.data());
    out.push_back(nullptr);
    return out;
  }
  pid_t pid_ = -1;
  bool ended_ = false;
};

// Living processes of the session `leader`, or with `text` on their command line.
inline std::vector<std::string> still_running(pid_t leader, const std::string& text) {
  std::vector<std::string> out;
  std::error_code gone;
  for (const auto& e : std::filesystem::directory_iterator("/proc", gone)) {
    const std::string pid = e.path().filename().string();
    if (pid.find_first_not_of("0123456789") != std::string::npos || pid == std::to_string(::getpid()))
      continue;
    // Empty for a process that ends meanwhile: its file can be opened and not be read, which a stream buffer
    // throws and a stream swallows.
    const auto read = [&](const char* name) {
      std::ifstream in(e.path() / name, std::ios::binary);
      std::ostringstream text_of;
      text_of << in.rdbuf();
      return text_of.str();
    };
    // proc(5), stat: "pid (name) state ppid pgrp session ..."; the name may hold anything.
    const std::string stat = read("stat"), words = read("cmdline");
    const auto after = stat.rfind(')');
    char state = 'Z';
    int ppid = 0, group = 0, session = 0;
    if (after == std::string::npos ||
        std::sscanf(stat.c_str() + after + 1, " %c %d %d %d", &state, &ppid, &group, &session) != 4)
      continue;
    if (state == 'Z' || state == 'X') continue;  // dead; only nobody has asked for its exit code yet
    if (session == leader || words.find(text) != std::string::npos) out.push_back(pid + " " + words);
  }
  return out;
}

// Looks until nothing of it runs any more, a second at most.
inline std::vector<std::string> left_after_a_second(pid_t leader, const std::string& text) {
#ifdef __SANITIZE_ADDRESS__
  constexpr int kLooks = 500;  // everything takes longer
#else
  constexpr int kLooks = 100;
#endif
  for (int look = 0;; ++look) {
    auto left = still_running(leader, text);
    if (left.empty() || look == kLooks) return left;
    std::this_thread::sleep_for(std::chrono::milliseconds(10));
  }
}

}  // namespace burstsieve::test
