// What a run shows while it goes on.
#pragma once
#include <cstdint>
#include <string>
#include <vector>

#include "burstsieve/base/clock.h"
#include "burstsieve/pipeline/cull.h"
#include "burstsieve/report/light.h"
#include "settings.h"

namespace burstsieve::tool {

// Tables or JSON Lines on stdout, errors and a progress bar on stderr. The bar only on a terminal.
class Terminal final : public pipeline::Listener {
 public:
  Terminal(const Settings& settings, Clock& clock);
  ~Terminal() override;
  void found(const ScanCounts& counts, std::size_t bursts, std::size_t frames) override;
  void progress(std::size_t done, std::size_t total) override;
  void burst(const BurstOutcome& outcome) override;
  void error(const Error& error) override;
  void note(const Error& note) override;
  void clear_bar();
  const std::vector<report::BurstLight>& light() const { return light_; }  // of the bursts so far

 private:
  const Settings& settings_;
  Clock& clock_;
  bool bar_;
  bool bar_shown_ = false;
  std::int64_t started_ms_ = 0, drawn_ms_ = 0;
  std::vector<report::BurstLight> light_;
};

// "  123/1200 frames  [=====>    ]  11.2/s  1:36 left", at most `columns` wide.
std::string progress_line(std::size_t done, std::size_t total, std::int64_t elapsed_ms, int columns);

}  // namespace burstsieve::tool
