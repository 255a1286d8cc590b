// Enters the sandbox and tries what must not work, and what must. Prints "name: errno name" per attempt.
#include <fcntl.h>
#include <linux/io_uring.h>
#include <sys/mman.h>
#include <sys/prctl.h>
#include <sys/ptrace.h>
#include <sys/resource.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/syscall.h>
#include <sys/time.h>
#include <sys/xattr.h>
#include <unistd.h>

#include <atomic>
#include <cerrno>
#include <csignal>
#include <cstdio>
#include <cstdlib>
#include <cstring>
#include <string>
#include <thread>
#include <vector>

#include "../../../src/pipeline/sandbox.h"

namespace {

std::string report;

// Below 0 with errno set is a refusal; anything else went through.
void attempt(const char* name, long result) {
  report += std::string(name) + ": " + (result < 0 ? ::strerrorname_np(errno) : "went through") + "\n";
}

long process() {
  const long pid = ::syscall(SYS_fork);
  if (pid == 0) ::_exit(0);
  return pid;
}

}  // namespace

// argv[1]: an existing file that must not change. The filter lets standard error through, not standard
// output; it must be a pipe, since files may not grow.
int main(int argc, char** argv) {
  if (argc != 2) return 2;
  const std::string file = argv[1], beside = file + ".new";
  const char* const f = file.c_str();
  const char* const n = beside.c_str();
  const int read_only = ::open(f, O_RDONLY);
  const int inherited = ::open(n, O_CREAT | O_WRONLY, 0600);  // as if the supervisor had leaked one
  if (read_only < 0 || inherited < 0) return 2;
  ::unlink(n);
  // Started before, as a library might have done: it must not be left out.
  std::atomic<bool> in{false};
  std::string early = "?";
  std::thread earlier([&] {
    while (!in) std::this_thread::yield();
    early = ::open(f, O_WRONLY) < 0 ? ::strerrorname_np(errno) : "went through";
  });
  if (!burstsieve::pipeline::lower_limits(0)) ::_exit(3);
  const auto entered = burstsieve::pipeline::enter_sandbox();
  if (!entered) {
    std::fputs(entered.error().text.c_str(), stderr);
    ::_exit(4);
  }
  in = true;
  earlier.join();
  report += "an earlier thread opens to write: " + early + "\n";

  attempt("socket inet", ::socket(AF_INET, SOCK_STREAM, 0));
  attempt("socket unix", ::socket(AF_UNIX, SOCK_STREAM, 0));
  attempt("socketpair", [] {
    int two[2];
    return ::socketpair(AF_UNIX, SOCK_STREAM, 0, two);
  }());
  char* const args[] = {nullptr};
  attempt("execve", ::execve("/bin/true", args, args));
  attempt("execveat", ::syscall(SYS_execveat, AT_FDCWD, "/bin/true", args, args, 0));
  attempt("fork", process());
  attempt("clone without threads", ::syscall(SYS_clone, SIGCHLD, 0, 0, 0, 0));
  attempt("open to write", ::open(f, O_WRONLY));
  attempt("open to read and write", ::open(f, O_RDWR));
  attempt("open to append", ::open(f, O_WRONLY | O_APPEND));
  attempt("open and truncate", ::open(f, O_RDONLY | O_TRUNC));
  attempt("create", ::open(n, O_CREAT | O_WRONLY, 0600));
  attempt("create to read", ::open(n, O_CREAT | O_RDONLY, 0600));
  attempt("creat", ::syscall(SYS_creat, n, 0600));
  attempt("open without at", ::syscall(SYS_open, f, O_WRONLY, 0));
  attempt("openat2", ::syscall(SYS_openat2, AT_FDCWD, f, nullptr, 0));
  attempt("unnamed file", ::open("/tmp", O_TMPFILE | O_RDWR, 0600));
#if !defined(__SANITIZE_ADDRESS__)  // sanitizers need a pipe of their own
  attempt("write elsewhere", ::write(inherited, "x", 1));
#endif
  attempt("pwrite", ::pwrite(inherited, "x", 1, 0));
  attempt("sendfile", ::syscall(SYS_sendfile, inherited, read_only, nullptr, 1));
  attempt("copy_file_range", ::syscall(SYS_copy_file_range, read_only, nullptr, inherited, nullptr, 1, 0));
  attempt("unlink", ::unlink(f));
  attempt("rename", ::rename(f, n));
  attempt("link", ::link(f, n));
  attempt("symlink", ::symlink(f, n));
  attempt("mkdir", ::mkdir(n, 0700));
  attempt("rmdir", ::rmdir("/tmp/no-such"));
  attempt("mknod", ::mknod(n, S_IFIFO | 0600, 0));
  attempt("truncate", ::truncate(f, 0));
  attempt("ftruncate", ::ftruncate(inherited, 0));
  attempt("fallocate", ::fallocate(inherited, 0, 0, 1));
  attempt("chmod", ::chmod(f, 0777));
  attempt("fchmod", ::fchmod(read_only, 0777));
  attempt("chown", ::chown(f, 1, 1));
  attempt("times", ::utimensat(AT_FDCWD, f, nullptr, 0));
  attempt("setxattr", ::setxattr(f, "user.x", "1", 1, 0));
  attempt("kill", ::kill(::getppid(), 0));
  attempt("ptrace", ::ptrace(PTRACE_ATTACH, ::getppid(), nullptr, nullptr));
  attempt("read another process", ::syscall(SYS_process_vm_readv, ::getppid(), nullptr, 0, nullptr, 0, 0));
  attempt("executable memory",
          ::mmap(nullptr, 4096, PROT_READ | PROT_EXEC, MAP_PRIVATE | MAP_ANONYMOUS, -1, 0) == MAP_FAILED ? -1
                                                                                                         : 0);
  attempt("memfd", ::memfd_create("x", 0));
  attempt("io_uring", ::syscall(SYS_io_uring_setup, 1, nullptr));
  attempt("mount", ::syscall(SYS_mount, "x", "/", "x", 0, nullptr));
  attempt("bpf", ::syscall(SYS_bpf, 0, nullptr, 0));
  attempt("raise a limit", [] {
    const rlimit more{RLIM_INFINITY, RLIM_INFINITY};
    return ::setrlimit(RLIMIT_FSIZE, &more);
  }());
  attempt("core dumps", ::prctl(PR_SET_DUMPABLE, 1));
  report += "--\n";

  const int again = ::open(f, O_RDONLY | O_CLOEXEC);
  attempt("open to read", again);
  char c = 0;
  attempt("read", ::pread(again, &c, 1, 0));
  std::thread([] { attempt("thread", 0); }).join();
  attempt("memory", std::vector<char>(64u << 20, 1).empty() ? -1 : 0);
  report += "done\n";
  if (std::fputs(report.c_str(), stderr) < 0) return 5;
  ::_exit(0);
}
