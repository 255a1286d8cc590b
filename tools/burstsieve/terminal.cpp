#include "terminal.h"

#include <fmt/format.h>
#include <sys/ioctl.h>
#include <unistd.h>

#include <algorithm>
#include <cstdio>
#include <utility>

#include "burstsieve/report/json.h"
#include "burstsieve/report/text.h"
#include "output.h"

namespace burstsieve::tool {
namespace {

int columns() {
  winsize size{};
  return ioctl(STDERR_FILENO, TIOCGWINSZ, &size) == 0 && size.ws_col > 0 ? size.ws_col : 80;
}

std::string duration(std::int64_t seconds) {
  if (seconds >= 3600) return fmt::format("{}:{:02}:{:02}", seconds / 3600, seconds / 60 % 60, seconds % 60);
  return fmt::format("{}:{:02}", seconds / 60, seconds % 60);
}

}  // namespace

std::string progress_line(std::size_t done, std::size_t total, std::int64_t elapsed_ms, int columns_wide) {
  const double rate =
      elapsed_ms > 0 ? 1000.0 * static_cast<double>(done) / static_cast<double>(elapsed_ms) : 0;
  std::string tail = fmt::format("  {:.1f}/s", rate);
  if (done > 0 && done < total && rate > 0)
    tail +=
        "  " + duration(static_cast<std::int64_t>(static_cast<double>(total - done) / rate + .5)) + " left";
  const std::string head = fmt::format("{}/{} frames  ", done, total);
  const int room = std::min(40, columns_wide - 3 - static_cast<int>(head.size() + tail.size()));
  std::string bar;
  if (room >= 8) {
    const auto filled = total
                            ? static_cast<std::size_t>(static_cast<double>(room) * static_cast<double>(done) /
                                                       static_cast<double>(total))
                            : 0;
    bar = "[" + std::string(filled, '=') + std::string(static_cast<std::size_t>(room) - filled, ' ') + "]";
  }
  return head + bar + tail;
}

Terminal::Terminal(const Settings& settings, Clock& clock)
    : settings_(settings), clock_(clock), bar_(isatty(STDERR_FILENO) == 1), started_ms_(clock.steady_ms()) {}

Terminal::~Terminal() {
  clear_bar();
}

void Terminal::clear_bar() {
  if (!bar_shown_) return;
  std::fputs("\r\x1b[K", stderr);
  bar_shown_ = false;
}

void Terminal::found(const ScanCounts& counts, std::size_t bursts, std::size_t frames) {
  if (settings_.json || settings_.quiet) return;
  say("{} raw and {} JPEG files: {} frames in {} bursts\n\n", counts.raw, counts.jpeg, frames, bursts);
  started_ms_ = clock_.steady_ms();
}

void Terminal::progress(std::size_t done, std::size_t total) {
  if (!bar_) return;
  const std::int64_t now = clock_.steady_ms();
  if (bar_shown_ && now - drawn_ms_ < 100 && done < total) return;
  drawn_ms_ = now;
  std::fputs(("\r" + progress_line(done, total, now - started_ms_, columns()) + "\x1b[K").c_str(), stderr);
  bar_shown_ = true;
}

void Terminal::burst(const BurstOutcome& outcome) {
  if (auto light = report::burst_light(outcome)) light_.push_back(std::move(*light));
  if (settings_.quiet) return;
  clear_bar();
  say("{}\n", settings_.json ? report::burst_json(outcome) : report::burst_table(outcome));
  std::fflush(stdout);
}

void Terminal::error(const Error& error) {
  clear_bar();
  if (settings_.json) say("{}\n", report::error_json(error));
  complain("burstsieve: {}\n", error.line());
}

void Terminal::note(const Error& note) {
  clear_bar();
  complain("burstsieve: note: {}\n", note.line());
}

}  // namespace burstsieve::tool
