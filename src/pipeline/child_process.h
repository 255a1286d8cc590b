// A child process with a pipe to it and its standard error caught.
#pragma once
#include <sys/types.h>

#include <memory>
#include <string>

#include "burstsieve/base/bytes.h"
#include "burstsieve/base/result.h"

namespace burstsieve::pipeline {

// How a process ended.
struct Ending {
  int signal = 0;     // 0: it exited by itself
  int exit_code = 0;  // then
};

class ChildProcess {
 public:
  // Runs `program argument` with the pipe as its standard input, standard output going nowhere, and no other
  // file of ours open. send_seconds: how long send() may wait for a child that doesn't read.
  static Result<std::unique_ptr<ChildProcess>> start(const std::string& program, const std::string& argument,
                                                     double send_seconds);
  // Kills it if it still runs.
  ~ChildProcess();
  ChildProcess(const ChildProcess&) = delete;
  ChildProcess& operator=(const ChildProcess&) = delete;

  // All of it, or false: the child is gone or doesn't read.
  bool send(Bytes bytes);

  enum class Heard { bytes, closed, nothing };
  // Waits up to `ms` for bytes and appends them to `out`.
  Heard receive(int ms, ByteBuffer& out);

  // Ends it and says how it ended: by itself before, or now by us.
  Ending end();
  // The same for one that is dying of itself: gives it a moment to do so, so that its own word counts.
  Ending wait_end();
  // The last line it wrote on standard error, one line, for a person.
  std::string last_words() const;

 private:
  ChildProcess() = default;
  void drain_errors();

  pid_t pid_ = -1;
  int pipe_ = -1, errors_ = -1;
  std::string error_text_;
};

}  // namespace burstsieve::pipeline
