// burstsieve as a process of its own, with a home of its own.
#pragma once
#include <fcntl.h>
#include <signal.h>
#include <sys/wait.h>
#include <unistd.h>

#include <cerrno>
#include <cstdlib>
#include <string>
#include <vector>

namespace burstsieve::test {

class Process {
 public:
  // `home` takes the catalogue, the state and what it prints (out, err; appended).
  Process(const std::string& home, const std::vector<std::string>& arguments) {
    child_ = ::fork();
    if (child_ != 0) return;
    for (const char* name : {"XDG_DATA_HOME", "XDG_CONFIG_HOME", "XDG_STATE_HOME"}) ::unsetenv(name);
    ::setenv("HOME", home.c_str(), 1);
    const int flags = O_WRONLY | O_CREAT | O_APPEND;
    const int out = ::open((home + "/out").c_str(), flags, 0600);
    const int err = ::open((home + "/err").c_str(), flags, 0600);
    ::dup2(out, 1);
    ::dup2(err, 2);
    std::vector<char*> argv{const_cast<char*>(BURSTSIEVE_PROGRAM)};
    for (const std::string& a : arguments) argv.push_back(const_cast<char*>(a.c_str()));
    argv.push_back(nullptr);
    ::execv(argv[0], argv.data());
    ::_exit(127);
  }
  Process(const Process&) = delete;
  Process& operator=(const Process&) = delete;
  ~Process() {
    if (child_ > 0) end(SIGKILL);
  }

  // The exit code, or minus the signal.
  int wait() {
    int status = 0;
    while (::waitpid(child_, &status, 0) < 0 && errno == EINTR) {
    }
    child_ = -1;
    return WIFEXITED(status) ? WEXITSTATUS(status) : -WTERMSIG(status);
  }
  int end(int signal) {
    ::kill(child_, signal);
    return wait();
  }

 private:
  pid_t child_ = -1;
};

inline int run(const std::string& home, const std::vector<std::string>& arguments) {
  return Process(home, arguments).wait();
}

}  // namespace burstsieve::test
