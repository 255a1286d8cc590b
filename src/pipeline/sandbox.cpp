#include "sandbox.h"

#include <fcntl.h>
#include <sched.h>
#include <seccomp.h>
#include <sys/mman.h>
#include <sys/prctl.h>
#include <sys/resource.h>
#include <unistd.h>

#include <cerrno>
#include <cstring>
#include <initializer_list>
#include <memory>

namespace burstsieve::pipeline {
namespace {

bool limit(__rlimit_resource_t what, rlim_t value) {
  const rlimit both{value, value};
  return ::setrlimit(what, &both) == 0;
}

// Calls that need no look at their arguments: they read, wait, count or manage this process's own memory.
constexpr int kHarmless[] = {SCMP_SYS(read),
                             SCMP_SYS(readv),
                             SCMP_SYS(pread64),
                             SCMP_SYS(preadv),
                             SCMP_SYS(lseek),
                             SCMP_SYS(close),
                             SCMP_SYS(fstat),
                             SCMP_SYS(stat),
                             SCMP_SYS(lstat),
                             SCMP_SYS(newfstatat),
                             SCMP_SYS(statx),
                             SCMP_SYS(access),
                             SCMP_SYS(faccessat),
                             SCMP_SYS(faccessat2),
                             SCMP_SYS(readlink),
                             SCMP_SYS(readlinkat),
                             SCMP_SYS(getcwd),
                             SCMP_SYS(fadvise64),
                             SCMP_SYS(readahead),
                             SCMP_SYS(brk),
                             SCMP_SYS(munmap),
                             SCMP_SYS(mremap),
                             SCMP_SYS(madvise),
                             SCMP_SYS(mincore),
                             SCMP_SYS(futex),
                             SCMP_SYS(sched_yield),
                             SCMP_SYS(sched_getaffinity),
                             SCMP_SYS(membarrier),
                             SCMP_SYS(set_robust_list),
                             SCMP_SYS(set_tid_address),
                             SCMP_SYS(rseq),
                             SCMP_SYS(restart_syscall),
                             SCMP_SYS(rt_sigaction),
                             SCMP_SYS(rt_sigprocmask),
                             SCMP_SYS(rt_sigreturn),
                             SCMP_SYS(sigaltstack),
                             SCMP_SYS(clock_gettime),
                             SCMP_SYS(clock_getres),
                             SCMP_SYS(gettimeofday),
                             SCMP_SYS(time),
                             SCMP_SYS(clock_nanosleep),
                             SCMP_SYS(nanosleep),
                             SCMP_SYS(poll),
                             SCMP_SYS(ppoll),
                             SCMP_SYS(getrandom),
                             SCMP_SYS(getrusage),
                             SCMP_SYS(times),
                             SCMP_SYS(sysinfo),
                             SCMP_SYS(uname),
                             SCMP_SYS(getpid),
                             SCMP_SYS(gettid),
                             SCMP_SYS(getppid),
                             SCMP_SYS(getuid),
                             SCMP_SYS(geteuid),
                             SCMP_SYS(getgid),
                             SCMP_SYS(getegid),
                             SCMP_SYS(getrlimit),
                             SCMP_SYS(exit),
                             SCMP_SYS(exit_group)};

class Filter {
 public:
  Filter() : context_(seccomp_init(SCMP_ACT_ERRNO(EPERM)), &seccomp_release) {}

  bool build() {
    if (!context_) return false;
    // Every thread of the process, should a library have started one before.
    ok_ = seccomp_attr_set(context_.get(), SCMP_FLTATR_CTL_TSYNC, 1) == 0;
    for (const int call : kHarmless) allow(call, {});
    const auto bits_clear = [](unsigned argument, std::uint64_t bits) {
      return scmp_arg_cmp{argument, SCMP_CMP_MASKED_EQ, bits, 0};
    };
    const auto equals = [](unsigned argument, std::uint64_t value) {
      return scmp_arg_cmp{argument, SCMP_CMP_EQ, value, 0};
    };
    // O_TMPFILE shares a bit with O_DIRECTORY, which is harmless.
    constexpr std::uint64_t writing = O_ACCMODE | O_CREAT | O_TRUNC | O_APPEND | (O_TMPFILE & ~O_DIRECTORY);
    allow(SCMP_SYS(openat), {bits_clear(2, writing)});
    // The pipe to the supervisor, and standard error.
    for (const std::uint64_t fd : {0u, 2u}) {
      allow(SCMP_SYS(write), {equals(0, fd)});
      allow(SCMP_SYS(writev), {equals(0, fd)});
    }
#if defined(__SANITIZE_ADDRESS__)
    // Their run-time looks through a pipe of its own whether memory is readable.
    allow(SCMP_SYS(pipe2), {});
    allow(SCMP_SYS(write), {});
#endif
    allow(SCMP_SYS(mmap), {bits_clear(2, PROT_EXEC)});
    allow(SCMP_SYS(mprotect), {bits_clear(2, PROT_EXEC)});
    // Threads, but no processes. clone3 hides its flags from the filter: "not there" makes the C library take
    // clone.
    allow(SCMP_SYS(clone), {{0, SCMP_CMP_MASKED_EQ, CLONE_THREAD, CLONE_THREAD}});
    rule(SCMP_ACT_ERRNO(ENOSYS), SCMP_SYS(clone3), {});
    allow(SCMP_SYS(tgkill), {equals(0, static_cast<std::uint64_t>(::getpid()))});
    allow(SCMP_SYS(prlimit64), {equals(2, 0)});  // asks, changes nothing
    allow(SCMP_SYS(prctl), {equals(0, PR_SET_NAME)});
    for (const std::uint64_t what : {F_GETFD, F_SETFD, F_GETFL, F_DUPFD_CLOEXEC})
      allow(SCMP_SYS(fcntl), {equals(1, what)});
    return ok_;
  }

  int load() {
    return seccomp_load(context_.get());
  }

 private:
  void allow(int call, std::initializer_list<scmp_arg_cmp> conditions) {
    rule(SCMP_ACT_ALLOW, call, conditions);
  }
  void rule(std::uint32_t action, int call, std::initializer_list<scmp_arg_cmp> conditions) {
    const int done = seccomp_rule_add_array(context_.get(), action, call,
                                            static_cast<unsigned>(conditions.size()), conditions.begin());
    // A call that this processor's kernel doesn't have can't be made either.
    ok_ = ok_ && (done == 0 || done == -EDOM);
  }

  std::unique_ptr<void, decltype(&seccomp_release)> context_;
  bool ok_ = true;
};

}  // namespace

Status lower_limits(std::uint64_t memory_bytes) {
  bool ok = limit(RLIMIT_CORE, 0) && limit(RLIMIT_FSIZE, 0);
#if !defined(__SANITIZE_ADDRESS__)  // whose shadow memory takes terabytes of address space
  if (memory_bytes > 0) ok = limit(RLIMIT_AS, memory_bytes) && ok;
#else
  static_cast<void>(memory_bytes);
#endif
  if (ok) return Done{};
  return Error{Cause::io, {}, std::string("the engine's limits could not be set: ") + std::strerror(errno)};
}

Status enter_sandbox() {
  const Error refused{Cause::unsupported, {}, "this system refuses the system call filter"};
  if (::prctl(PR_SET_NO_NEW_PRIVS, 1, 0, 0, 0) != 0) return refused;
  Filter filter;
  if (!filter.build()) return refused;
  if (const int done = filter.load(); done != 0)
    return Error{Cause::unsupported, {}, refused.text + ": " + std::strerror(-done)};
  return Done{};
}

}  // namespace burstsieve::pipeline
