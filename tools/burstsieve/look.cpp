#include "look.h"

#include <fmt/format.h>

#include <filesystem>

#include "interrupt.h"
#include "output.h"
#include "terminal.h"

namespace burstsieve::tool {
namespace {

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

std::string title_of(const std::vector<std::string>& places) {
  if (places.empty()) return "";
  auto path = std::filesystem::absolute(places.front()).lexically_normal();
  if (!path.has_filename()) path = path.parent_path();
  std::string out = path.filename().empty() ? path.string() : path.filename().string();
  if (places.size() > 1) out += fmt::format(" and {} more", places.size() - 1);
  return out;
}

}  // namespace burstsieve::tool
