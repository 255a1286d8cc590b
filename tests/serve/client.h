// A client of bare sockets, and the program that serves.
#pragma once
#include <arpa/inet.h>
#include <fcntl.h>
#include <poll.h>
#include <spawn.h>
#include <sys/socket.h>
#include <sys/wait.h>
#include <unistd.h>

#include <chrono>
#include <csignal>
#include <fstream>
#include <map>
#include <nlohmann/json.hpp>
#include <optional>
#include <stdexcept>
#include <string>
#include <thread>
#include <vector>

#include "base/temp_folder.h"
#include "burstsieve/base/text.h"

namespace burstsieve::test {

class Socket {
 public:
  explicit Socket(int port) : fd_(::socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0)) {
    sockaddr_in to{};
    to.sin_family = AF_INET;
    to.sin_port = htons(static_cast<std::uint16_t>(port));
    to.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
    if (::connect(fd_, reinterpret_cast<const sockaddr*>(&to), sizeof to) != 0)
      throw std::runtime_error("no connection");
  }
  Socket(Socket&& o) noexcept : fd_(std::exchange(o.fd_, -1)) {}
  Socket(const Socket&) = delete;
  Socket& operator=(const Socket&) = delete;
  ~Socket() {
    if (fd_ >= 0) ::close(fd_);
  }

  // False once the other side takes no more.
  bool send(std::string_view bytes) const {
    while (!bytes.empty()) {
      const ssize_t n = ::send(fd_, bytes.data(), bytes.size(), MSG_NOSIGNAL);
      if (n <= 0) return false;
      bytes.remove_prefix(static_cast<std::size_t>(n));
    }
    return true;
  }
  // What comes within the time; empty: nothing, or the end.
  std::string receive(int ms = 20000) const {
    pollfd p{fd_, POLLIN, 0};
    if (::poll(&p, 1, ms) <= 0) return {};
    char buffer[65536];
    const ssize_t n = ::recv(fd_, buffer, sizeof buffer, 0);
    return n > 0 ? std::string(buffer, static_cast<std::size_t>(n)) : std::string();
  }
  std::string until_closed() const {
    std::string out;
    for (std::string part = receive(); !part.empty(); part = receive()) out += part;
    return out;
  }

 private:
  int fd_;
};

struct Answer {
  int status = 0;  // 0: none came
  std::map<std::string, std::string> headers;
  std::string body;
  nlohmann::json json() const { return nlohmann::json::parse(body, nullptr, false); }
};

inline Answer answer_of(const std::string& text) {
  Answer out;
  const auto end = text.find("\r\n\r\n");
  if (!text.starts_with("HTTP/1.1 ") || end == std::string::npos) return out;
  out.status = std::stoi(text.substr(9, 3));
  out.body = text.substr(end + 4);
  std::size_t at = text.find("\r\n") + 2;
  while (at < end) {
    const auto line_end = text.find("\r\n", at);
    const std::string line = text.substr(at, line_end - at);
    const auto colon = line.find(": ");
    if (colon != std::string::npos) out.headers[lower_ascii(line.substr(0, colon))] = line.substr(colon + 2);
    at = line_end + 2;
  }
  return out;
}

// A browser's tab, as far as the server can tell.
struct Tab {
  int port = 0;
  std::string cookie, token;

  std::string host() const { return "127.0.0.1:" + std::to_string(port); }
  std::string head(const std::string& method, const std::string& target) const {
    return method + " " + target + " HTTP/1.1\r\nHost: " + host() + "\r\nCookie: " + cookie + "\r\n";
  }
  Answer raw(const std::string& request) const {
    const Socket s(port);
    s.send(request);
    return answer_of(s.until_closed());
  }
  Answer get(const std::string& target) const {
    return raw(head("GET", target) + "Connection: close\r\n\r\n");
  }
  std::string post_text(const std::string& target, const std::string& body) const {
    return head("POST", target) + "Origin: http://" + host() + "\r\nX-Burstsieve-Token: " + token +
           "\r\nContent-Type: application/json\r\nContent-Length: " + std::to_string(body.size()) +
           "\r\nConnection: close\r\n\r\n" + body;
  }
  Answer post(const std::string& target, const nlohmann::json& body = nlohmann::json::object()) const {
    return raw(post_text(target, body.dump()));
  }
};

// `burstsieve review` over a folder, with a home of its own below `home`.
class ReviewProcess {
 public:
  ReviewProcess(const std::string& folder, const TempFolder& home,
                const std::vector<std::string>& options = {}) {
    int out[2];
    if (::pipe2(out, O_CLOEXEC) != 0) throw std::runtime_error("no pipe");
    std::vector<std::string> words{BURSTSIEVE_PROGRAM, "review", "--no-browser", "--detector", "off", folder};
    words.insert(words.end(), options.begin(), options.end());
    std::vector<char*> arguments;
    for (std::string& w : words) arguments.push_back(w.data());
    arguments.push_back(nullptr);
    std::vector<std::string> settings{"HOME=" + home.path, "PATH=/usr/bin:/bin",
                                      "XDG_RUNTIME_DIR=" + home.path};
    std::vector<char*> environment;
    for (std::string& s : settings) environment.push_back(s.data());
    environment.push_back(nullptr);
    errors_ = home.at("errors.txt");
    posix_spawn_file_actions_t actions;
    posix_spawn_file_actions_init(&actions);
    posix_spawn_file_actions_adddup2(&actions, out[1], STDOUT_FILENO);
    posix_spawn_file_actions_addopen(&actions, STDERR_FILENO, errors_.c_str(), O_WRONLY | O_CREAT | O_TRUNC,
                                     0600);
    const int failed =
        ::posix_spawn(&pid_, BURSTSIEVE_PROGRAM, &actions, nullptr, arguments.data(), environment.data());
    posix_spawn_file_actions_destroy(&actions);
    ::close(out[1]);
    if (failed != 0) throw std::runtime_error("the program can't be started");
    read_address(out[0]);
    ::close(out[0]);
  }
  ~ReviewProcess() { end(SIGKILL); }
  ReviewProcess(const ReviewProcess&) = delete;
  ReviewProcess& operator=(const ReviewProcess&) = delete;

  // As it was told to end, or -signal.
  int end(int signal) {
    if (pid_ <= 0) return 0;
    ::kill(pid_, signal);
    int status = 0;
    ::waitpid(pid_, &status, 0);
    pid_ = 0;
    return WIFEXITED(status) ? WEXITSTATUS(status) : -WTERMSIG(status);
  }

  int port() const { return port_; }
  const std::string& secret() const { return secret_; }
  const std::string& said() const { return said_; }
  std::string errors() const {
    std::ifstream in(errors_);
    return {std::istreambuf_iterator<char>(in), {}};
  }
  // Opens the printed address, as a browser does.
  Tab tab() const {
    Tab t{port_, {}, {}};
    const Answer first = t.get("/?t=" + secret_);
    const std::string set = first.headers.count("set-cookie") ? first.headers.at("set-cookie") : "";
    t.cookie = set.substr(0, set.find(';'));
    const std::string page = t.get("/").body;
    const std::string mark = "name=\"token\" content=\"";
    if (const auto at = page.find(mark); at != std::string::npos) t.token = page.substr(at + mark.size(), 32);
    return t;
  }
  // Resident memory, bytes.
  std::size_t memory() const {
    std::ifstream in("/proc/" + std::to_string(pid_) + "/status");
    for (std::string line; std::getline(in, line);)
      if (line.starts_with("VmHWM:")) return std::stoul(line.substr(6)) * 1024;
    return 0;
  }

 private:
  void read_address(int fd) {
    char buffer[4096];
    for (;;) {
      const ssize_t n = ::read(fd, buffer, sizeof buffer);
      if (n <= 0) return;  // it ended: said() and errors() tell
      said_.append(buffer, static_cast<std::size_t>(n));
      const auto at = said_.find("http://127.0.0.1:");
      if (at == std::string::npos || said_.find("Ctrl-C") == std::string::npos) continue;
      port_ = std::stoi(said_.substr(at + 17));
      const auto mark = said_.find("?t=", at) + 3;
      secret_ = said_.substr(mark, said_.find_first_of(" \n", mark) - mark);
      return;
    }
  }
  pid_t pid_ = 0;
  int port_ = 0;
  std::string secret_, said_, errors_;
};

}  // namespace burstsieve::test
