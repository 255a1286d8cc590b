#include "look.h"

#include <fmt/format.h>

#include <algorithm>
#include <filesystem>
#include <string_view>

#include "burstsieve/base/durable.h"
#include "interrupt.h"
#include "output.h"
#include "terminal.h"

namespace burstsieve::tool {
namespace {

constexpr std::uint64_t kLargestPage = 64u << 20;  // ours are below 2 MB

class Handing final : public pipeline::Listener {
 public:
  Handing(Terminal& terminal, const std::function<void(const BurstOutcome&)>& take)
      : terminal_(terminal), take_(take) {}
  void found(const ScanCounts&, std::size_t, std::size_t) override {}
  void progress(std::size_t done, std::size_t total) override { terminal_.progress(done, total); }
  void burst(const BurstOutcome& outcome) override { take_(outcome); }
  void error(const Error& error) override { terminal_.error(error); }
  void note(const Error& note) override { terminal_.note(note); }

 private:
  Terminal& terminal_;
  const std::function<void(const BurstOutcome&)>& take_;
};

}  // namespace

int look(Settings& settings, const std::function<void(const BurstOutcome&)>& take) {
  settings.cull.dry_run = true;
  for (const Status& s : {settings.cull.bursts.check(), settings.cull.policy.check()})
    if (!s) {
      cannot_run(s.error());
      return kUsage;
    }
  auto catalog = open_catalog(settings);
  if (!catalog) return cannot_run(catalog.error());
  RealFileSystem fs;
  SystemClock clock;
  const std::atomic<bool>& stop = stop_on_interrupt();
  Terminal terminal(settings, clock);
  Handing handing(terminal, take);
  const auto summary = pipeline::cull(settings.cull, *catalog, fs, clock, handing, &stop);
  terminal.clear_bar();
  if (!summary) return cannot_run(summary.error());
  if (stop) {
    complain("burstsieve: stopped; run the same command again to go on\n");
    return kStopped;
  }
  return summary->errors ? kSomeFailed : kDone;
}

bool is_our_page(Bytes bytes) {
  const std::string_view all(reinterpret_cast<const char*>(bytes.data()),
                             std::min<std::size_t>(bytes.size(), 1024));
  return all.starts_with("<!DOCTYPE html>") &&
         all.find("<meta name=\"generator\" content=\"burstsieve\">") != std::string_view::npos;
}

Status write_page(FileSystem& fs, const std::string& path, const std::string& page) {
  const auto there = fs.stat(path);
  if (!there) return there.error();
  if (*there) {
    const auto before = fs.read_file(path, kLargestPage);
    if (!before || !is_our_page(*before))
      return Error{Cause::unsupported, path,
                   "is there already, and is not a page of burstsieve's; it is left alone"};
  }
  return durable_replace(fs, path, Bytes(reinterpret_cast<const std::uint8_t*>(page.data()), page.size()),
                         *there);
}

std::string title_of(const std::vector<std::string>& places) {
  if (places.empty()) return "";
  auto path = std::filesystem::absolute(places.front()).lexically_normal();
  if (!path.has_filename()) path = path.parent_path();
  std::string out = path.filename().empty() ? path.string() : path.filename().string();
  if (places.size() > 1) out += fmt::format(" and {} more", places.size() - 1);
  return out;
}

}  // namespace burstsieve::tool
