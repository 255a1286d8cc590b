#include "child_process.h"

#include <fcntl.h>
#include <poll.h>
#include <spawn.h>
#include <sys/socket.h>
#include <sys/time.h>
#include <sys/wait.h>
#include <unistd.h>

#include <cerrno>
#include <csignal>
#include <cstring>

#include "burstsieve/base/text.h"

extern char** environ;

namespace burstsieve::pipeline {
namespace {

constexpr std::size_t kErrorsKept = 4096;  // of standard error: the end tells most

class SpawnActions {
 public:
  SpawnActions() { posix_spawn_file_actions_init(&actions_); }
  ~SpawnActions() { posix_spawn_file_actions_destroy(&actions_); }
  SpawnActions(const SpawnActions&) = delete;
  SpawnActions& operator=(const SpawnActions&) = delete;
  posix_spawn_file_actions_t* get() { return &actions_; }

 private:
  posix_spawn_file_actions_t actions_;
};

void close_fd(int& fd) {
  if (fd >= 0) ::close(fd);
  fd = -1;
}

Error system_error(const std::string& what, int number) {
  return {Cause::io, what, std::strerror(number)};
}

// The child must not inherit a blocked or ignored signal of ours.
int spawn(pid_t& pid, const std::string& program, const std::string& argument, int pipe, int errors) {
  SpawnActions actions;
  posix_spawn_file_actions_adddup2(actions.get(), pipe, STDIN_FILENO);
  posix_spawn_file_actions_addopen(actions.get(), STDOUT_FILENO, "/dev/null", O_WRONLY, 0);
  posix_spawn_file_actions_adddup2(actions.get(), errors, STDERR_FILENO);
  posix_spawn_file_actions_addclosefrom_np(actions.get(), 3);
  posix_spawnattr_t attributes;
  posix_spawnattr_init(&attributes);
  sigset_t none, common;
  sigemptyset(&none);
  sigemptyset(&common);
  for (const int s : {SIGINT, SIGTERM, SIGPIPE, SIGCHLD}) sigaddset(&common, s);
  posix_spawnattr_setsigmask(&attributes, &none);
  posix_spawnattr_setsigdefault(&attributes, &common);
  posix_spawnattr_setflags(&attributes, POSIX_SPAWN_SETSIGMASK | POSIX_SPAWN_SETSIGDEF);
  std::string name = program, word = argument;
  char* const argv[] = {name.data(), word.data(), nullptr};
  const int done = posix_spawn(&pid, program.c_str(), actions.get(), &attributes, argv, environ);
  posix_spawnattr_destroy(&attributes);
  return done;
}

}  // namespace

Result<std::unique_ptr<ChildProcess>> ChildProcess::start(const std::string& program,
                                                          const std::string& argument, double send_seconds) {
  std::unique_ptr<ChildProcess> child(new ChildProcess);
  int ends[2];
  if (::socketpair(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC, 0, ends) != 0) return system_error(program, errno);
  child->pipe_ = ends[0];
  int theirs = ends[1];
  int errors[2];
  if (::pipe2(errors, O_CLOEXEC | O_NONBLOCK) != 0) {
    const Error e = system_error(program, errno);
    close_fd(theirs);
    return e;
  }
  child->errors_ = errors[0];
  int their_errors = errors[1];
  const auto whole = static_cast<time_t>(send_seconds);
  const timeval patience{whole, static_cast<suseconds_t>((send_seconds - static_cast<double>(whole)) * 1e6)};
  ::setsockopt(child->pipe_, SOL_SOCKET, SO_SNDTIMEO, &patience, sizeof patience);
  const int failed = spawn(child->pid_, program, argument, theirs, their_errors);
  close_fd(theirs);
  close_fd(their_errors);
  if (failed == 0) return child;
  child->pid_ = -1;
  return system_error(program, failed);
}

ChildProcess::~ChildProcess() {
  end();
  close_fd(errors_);
}

bool ChildProcess::send(Bytes bytes) {
  std::size_t done = 0;
  while (done < bytes.size()) {
    const ssize_t n = ::send(pipe_, bytes.data() + done, bytes.size() - done, MSG_NOSIGNAL);
    if (n < 0 && errno == EINTR) continue;
    if (n <= 0) return false;
    done += static_cast<std::size_t>(n);
  }
  return true;
}

ChildProcess::Heard ChildProcess::receive(int ms, ByteBuffer& out) {
  pollfd watched[] = {{pipe_, POLLIN, 0}, {errors_, POLLIN, 0}};
  if (::poll(watched, 2, ms) <= 0) return Heard::nothing;
  if (watched[1].revents != 0) drain_errors();
  if (watched[0].revents == 0) return Heard::nothing;
  std::uint8_t chunk[65536];
  const ssize_t n = ::recv(pipe_, chunk, sizeof chunk, MSG_DONTWAIT);
  if (n > 0) {
    out.insert(out.end(), chunk, chunk + n);
    return Heard::bytes;
  }
  return n < 0 && (errno == EINTR || errno == EAGAIN) ? Heard::nothing : Heard::closed;
}

void ChildProcess::drain_errors() {
  char chunk[4096];
  ssize_t n = 0;
  while (errors_ >= 0 && (n = ::read(errors_, chunk, sizeof chunk)) > 0) {
    error_text_.append(chunk, static_cast<std::size_t>(n));
    if (error_text_.size() > kErrorsKept) error_text_.erase(0, error_text_.size() - kErrorsKept);
  }
  if (n == 0) close_fd(errors_);  // it closed its end: a poll would report that for ever
}

Ending ChildProcess::end() {
  if (pid_ < 0) return {};
  close_fd(pipe_);
  ::kill(pid_, SIGKILL);  // harmless to one that has ended: it is still ours to wait for
  int status = 0;
  while (::waitpid(pid_, &status, 0) < 0 && errno == EINTR) {
  }
  pid_ = -1;
  drain_errors();
  return WIFSIGNALED(status) ? Ending{WTERMSIG(status), 0} : Ending{0, WEXITSTATUS(status)};
}

Ending ChildProcess::wait_end() {
  if (pid_ < 0) return {};
  siginfo_t seen{};
  for (int i = 0; i < 200; ++i) {
    // Only looks: end() collects.
    if (::waitid(P_PID, static_cast<id_t>(pid_), &seen, WEXITED | WNOHANG | WNOWAIT) != 0 || seen.si_pid != 0)
      break;
    ::usleep(5000);
  }
  return end();
}

std::string ChildProcess::last_words() const {
  const std::string text = trimmed(error_text_);
  const auto line = text.rfind('\n');
  return one_line(line == std::string::npos ? text : text.substr(line + 1));
}

}  // namespace burstsieve::pipeline
