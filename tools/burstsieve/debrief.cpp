#include "burstsieve/report/debrief.h"

#include "burstsieve/base/text.h"
#include "burstsieve/report/own_page.h"
#include "look.h"
#include "output.h"

namespace burstsieve::tool {

int run_debrief(Settings& settings, const std::string& page) {
  report::DebriefMaker maker;
  const int code = look(settings, [&](const BurstOutcome& b) { maker.add(b); });
  if (code != kDone && code != kSomeFailed) return code;
  const report::Debrief debrief = maker.finish();
  say("{}", settings.json ? report::debrief_json(debrief) : report::debrief_text(debrief));
  if (!page.empty()) {
    RealFileSystem fs;
    const auto s = report::write_own_page(
        fs, page, report::debrief_page(debrief, title_of(settings.cull.places)), "Debrief: ");
    if (!s) return cannot_run(s.error());
    if (!settings.json) say("\nPage     {}\n", one_line(page));
  }
  return lost_output() ? kCannotRun : code;
}

}  // namespace burstsieve::tool
