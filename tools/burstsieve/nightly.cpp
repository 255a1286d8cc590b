#include <fmt/format.h>
#include <spawn.h>
#include <sys/wait.h>
#include <unistd.h>

#include <array>
#include <climits>
#include <cmath>
#include <cstdio>
#include <ctime>

#include "burstsieve/base/text.h"
#include "burstsieve/watch/state.h"
#include "burstsieve/watch/summary.h"
#include "burstsieve/watch/units.h"
#include "output.h"
#include "watch.h"

extern char** environ;

namespace burstsieve::tool {
namespace {

std::string local_time(std::int64_t ms, const char* format) {
  const auto seconds = static_cast<std::time_t>(ms / 1000);
  std::tm parts{};
  char text[32];
  if (!localtime_r(&seconds, &parts) || std::strftime(text, sizeof text, format, &parts) == 0)
    return "unknown";
  return text;
}

// This program, as the unit is to call it.
Result<std::string> own_path() {
  std::array<char, PATH_MAX> path{};
  const auto n = ::readlink("/proc/self/exe", path.data(), path.size() - 1);
  if (n <= 0) return Error{Cause::io, "/proc/self/exe", "can't tell where this program is"};
  return std::string(path.data(), static_cast<std::size_t>(n));
}

// True when systemctl did it. Its own words go to stderr.
bool systemctl(const std::vector<std::string>& words) {
  std::vector<std::string> all{"systemctl", "--user"};
  all.insert(all.end(), words.begin(), words.end());
  std::vector<char*> argv;
  for (std::string& w : all) argv.push_back(w.data());
  argv.push_back(nullptr);
  pid_t child = 0;
  if (::posix_spawnp(&child, "systemctl", nullptr, nullptr, argv.data(), environ) != 0) return false;
  int status = 0;
  while (::waitpid(child, &status, 0) < 0)
    if (errno != EINTR) return false;
  return WIFEXITED(status) && WEXITSTATUS(status) == 0;
}

Result<std::string> units_folder(const NightlySettings& nightly) {
  if (!nightly.units.empty()) return nightly.units;
  return watch::user_units_folder();
}

int install(const Settings& settings, const NightlySettings& nightly, const std::vector<std::string>& given) {
  std::vector<std::string> arguments{"nightly", "--once"};
  arguments.insert(arguments.end(), given.begin(), given.end());
  arguments.push_back("--");
  for (const std::string& place : settings.cull.places) {
    const auto real = watch::real_folder(place);
    if (!real) return cannot_run(real.error());
    arguments.push_back(*real);
  }
  const auto program = own_path();
  if (!program) return cannot_run(program.error());
  const auto units = watch::nightly_units(*program, arguments, nightly.at);
  if (!units) {
    cannot_run(units.error());
    return kUsage;
  }
  const auto folder = units_folder(nightly);
  if (!folder) return cannot_run(folder.error());
  RealFileSystem fs;
  const auto written = watch::install_units(*units, *folder, fs);
  if (!written) return cannot_run(written.error());
  for (const std::string& path : *written) say("Wrote {}\n", one_line(path));
  if (!nightly.enable) {
    say("Switch it on with\n  systemctl --user daemon-reload\n  systemctl --user enable --now {0}\n"
        "Try it now with\n  systemctl --user start {1}\n"
        "To run while you are not logged in: loginctl enable-linger\n",
        watch::kTimerName, watch::kServiceName);
    return kDone;
  }
  if (systemctl({"daemon-reload"}) && systemctl({"enable", "--now", watch::kTimerName})) {
    say("Switched on: every day at {}\n", nightly.at);
    return kDone;
  }
  return cannot_run({Cause::io, "systemctl --user", "did not switch the timer on; its units are written"});
}

int uninstall(const NightlySettings& nightly) {
  const auto folder = units_folder(nightly);
  if (!folder) return cannot_run(folder.error());
  if (nightly.enable && !systemctl({"disable", "--now", watch::kTimerName}))
    complain("burstsieve: systemctl --user did not switch the timer off\n");
  RealFileSystem fs;
  const auto removal = watch::remove_units(*folder, fs);
  if (!removal) return cannot_run(removal.error());
  for (const std::string& path : removal->removed) say("Removed {}\n", one_line(path));
  for (const Error& e : removal->left) complain("burstsieve: {}\n", e.line());
  if (removal->removed.empty() && removal->left.empty()) say("Nothing to remove in {}\n", one_line(*folder));
  if (!removal->removed.empty() && !nightly.enable)
    say("If it was switched on\n  systemctl --user disable --now {}\n  systemctl --user daemon-reload\n",
        watch::kTimerName);
  return removal->left.empty() ? kDone : kSomeFailed;
}

struct Told {
  std::string folder;
  std::int64_t number = 0;
};

// Gathers, writes, prints, and remembers what was told.
Result<report::MorningSummary> tell(const std::vector<std::string>& folders,
                                    const std::vector<Error>& passed_over,
                                    const std::vector<std::string>& left, Catalog* catalog,
                                    const Settings& settings, const NightlySettings& nightly) {
  const auto state = watch::state_folder();
  if (!state) return state.error();
  SystemClock clock;
  const std::int64_t now = clock.now_ms();
  std::vector<watch::FolderNews> news;
  std::vector<Told> told;
  bool nothing = left.empty() && passed_over.empty();
  for (const std::string& folder : folders) {
    const auto lines = watch::Ledger::read(*state, folder);
    if (!lines) return lines.error();
    const auto before = watch::told_of(*state, folder);
    auto n = watch::news_of(*lines, before.number);
    n.counts.folder = folder;
    if (before.at_ms) n.counts.since = local_time(before.at_ms, "%Y-%m-%d %H:%M");
    nothing = nothing && n.nothing();
    told.push_back({folder, std::max(n.last, before.number)});
    news.push_back(std::move(n));
  }
  auto summary = watch::joined(std::move(news), {}, catalog);
  summary.date = local_time(now, "%Y-%m-%d");
  summary.written = local_time(now, "%Y-%m-%d %H:%M");
  summary.waiting = left;
  for (const Error& e : passed_over) summary.failures.push_back({one_line(e.file), one_line(e.text)});
  RealFileSystem fs;
  const std::string where = nightly.summary.empty() ? *state + "/summaries" : nightly.summary;
  // A second empty one of the same day would say nothing.
  const auto first = fs.stat(where + "/" + summary.date + ".json");
  std::string base;
  if (!nothing || (first && !*first)) {
    auto written = watch::write_summary(summary, where, fs);
    if (!written) return written.error();
    base = *written;
  }
  for (const Told& t : told)
    if (auto s = watch::set_told(*state, t.folder, {t.number, now}); !s) return s.error();
  say("{}", settings.json ? report::morning_json(summary) : report::morning_text(summary));
  if (!base.empty() && !settings.json) say("Page: {}.html\n", one_line(base));
  return summary;
}

// What one night has to do.
struct Plan {
  std::vector<std::string> cull;   // as named
  std::vector<std::string> tell;   // with their links resolved
  std::vector<Error> passed_over;  // a share that is not there tonight must not cost the other folders
};

// A watcher at work culls by itself; what it says only needs telling.
Plan plan_of(const std::vector<std::string>& places, const std::string& state) {
  Plan out;
  for (const std::string& place : places) {
    const auto real = watch::real_folder(place);
    if (!real) {
      out.passed_over.push_back(real.error());
      continue;
    }
    const auto holder = watch::FolderLock::holder_of(*real, state);
    if (holder && (holder->command != "watch" || holder->folder != one_line(*real))) {
      out.passed_over.push_back({Cause::unsupported, place, "is in use by " + holder->text()});
      continue;
    }
    out.tell.push_back(*real);
    if (holder)
      complain("burstsieve: {}: watched by {}; only the summary is written\n", one_line(place),
               holder->text());
    else
      out.cull.push_back(place);
  }
  return out;
}

int once(Settings& settings, const WatchSettings& watch, const NightlySettings& nightly) {
  const auto state = watch::state_folder();
  if (!state) return cannot_run(state.error());
  Plan plan = plan_of(settings.cull.places, *state);
  for (const Error& e : plan.passed_over) complain("burstsieve: {}\n", e.line());
  if (plan.tell.empty()) return kCannotRun;
  settings.cull.places = std::move(plan.cull);
  watch::WatchTotals totals;
  bool stopped = false;
  Settings quiet = settings;
  quiet.quiet = true;  // the summary is what is told
  quiet.json = false;
  std::optional<Catalog> own;
  std::unique_ptr<Watching> watching;
  if (!quiet.cull.places.empty()) {
    auto started = Watching::start(quiet, watch, "nightly");
    if (!started) return cannot_run(started.error());
    watching = std::move(*started);
    totals = watching->watcher().run_once(watching->stop(), std::llround(nightly.wait_s * 1000));
    stopped = watching->stop();
  } else {
    auto catalog = open_catalog(settings);
    if (!catalog) return cannot_run(catalog.error());
    own.emplace(std::move(*catalog));
  }
  if (stopped) {
    complain("burstsieve: stopped; run the same command again to go on\n");
    return kStopped;
  }
  const auto summary = tell(plan.tell, plan.passed_over, totals.left, watching ? &watching->catalog() : &*own,
                            settings, nightly);
  if (!summary) return cannot_run(summary.error());
  if (lost_output()) return kCannotRun;
  return totals.errors > 0 || !summary->failures.empty() ? kSomeFailed : kDone;
}

int usage(const std::string& text) {
  cannot_run({Cause::unsupported, {}, text});
  return kUsage;
}

}  // namespace

int run_nightly(Settings& settings, const WatchSettings& watch, const NightlySettings& nightly,
                const std::vector<std::string>& given) {
  if (nightly.once + nightly.install + nightly.uninstall != 1)
    return usage("nightly needs one of --once, --install and --uninstall");
  if (nightly.uninstall) return uninstall(nightly);
  if (settings.cull.places.empty()) return usage("no folder named");
  for (const Status& s : {settings.cull.bursts.check(), settings.cull.policy.check(), watch.times.check()})
    if (!s) return usage(s.error().text);
  if (!(nightly.wait_s >= 0 && nightly.wait_s <= 86400)) return usage("wait must be 0 to 86400 seconds");
  return nightly.install ? install(settings, nightly, given) : once(settings, watch, nightly);
}

}  // namespace burstsieve::tool
