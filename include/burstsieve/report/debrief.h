// What cost frames on an outing, and what to change next time.
//
// A frame counts as lost to a cause when its verdict names that fault beyond its limit and is rather sure
// than not that the truth lies beyond it (rank/policy.h; confidence .5). Whatever became of the frame: one
// that is soft and has no better look-alike stays undecided, and is lost all the same. A frame can be lost to
// several causes. A share is of the frames in which the cause could be looked for: white plumage is not in
// every frame.
//
// Advice is given where two settings differ beyond doubt: each with at least 20 frames of at least 3 bursts,
// and their 95 % intervals (report/interval.h) apart; and only where the setting can do what is said of it
// (a shutter speed blurs, an aperture can't). It tells what went together on this outing, not why: whoever
// photographed swimming birds slowly and flying birds fast will read of the birds as much as of the shutter.
// Blind to: the light that there was to be had, and what was not photographed.
#pragma once
#include <array>
#include <cstddef>
#include <cstdint>
#include <map>
#include <optional>
#include <string>
#include <vector>

#include "burstsieve/model/outcome.h"
#include "burstsieve/report/interval.h"
#include "burstsieve/report/light.h"

namespace burstsieve::report {

enum class Cost {
  missed_focus,    // sharp elsewhere
  soft,            // without a streak, and nothing else is sharp: focus, haze, a poor lens
  subject_motion,  // the background stands still
  camera_shake,    // the background carries the same streak
  other_motion,    // bird or camera: the background is too plain to tell, or both moved
  whites,          // two channels or all clipped
  cut,
  head_hidden,
  any_motion,  // the three above together
  anything,
};
inline constexpr std::size_t kCosts = 10;
const char* name_of(Cost cost);  // "subject motion"
const char* code_of(Cost cost);  // "subject_motion"

enum class Setting { shutter, focal, aperture, iso, hour };
inline constexpr std::size_t kSettings = 5;
const char* name_of(Setting setting);  // "shutter speed"
const char* code_of(Setting setting);  // "shutter_s", with its unit

// What the debrief keeps of a frame.
struct FrameCost {
  int burst = 0;
  Verdict verdict = Verdict::undecided;
  bool measured = false;
  std::array<std::optional<double>, kSettings> setting;  // s, mm, f-number, ISO, hours after local midnight
  std::array<bool, kCosts> asked{}, lost{};
  // Stops from the brightest plumage to the clip, of the channel between the other two: 0 is where two clip.
  std::optional<double> headroom_ev;
  bool from_sensor = false;  // headroom_ev is the sensor's, not a rendering's
};
FrameCost frame_cost(const FrameOutcome& outcome, int burst);

struct Share {
  std::size_t lost = 0, asked = 0;
  Interval interval;
  double value() const { return asked ? static_cast<double>(lost) / static_cast<double>(asked) : 0; }
};
using Shares = std::array<Share, kCosts>;

struct DebriefBin {
  std::string label;        // "1/1600 to 1/2500 s"
  double from = 0, to = 0;  // smallest and largest value used
  std::size_t frames = 0, bursts = 0;
  Shares shares;
};

// Speed, aperture and ISO in whole stops about the value most used, focal length in steps of a factor of 1.41
// about it, the time by the hour. From slow to fast, short to long, wide to narrow, low to high, early to
// late.
struct SettingBins {
  Setting setting{};
  std::vector<DebriefBin> bins;
  std::size_t unknown = 0;  // measured frames whose file does not state it
};

struct Advice {
  std::string text;
  std::optional<Setting> setting;  // what it was told from; nothing: the outing as a whole
  Cost cost{};
  Share worse, better;                // of both sides; `better` empty where there is one side only
  std::optional<double> exposure_ev;  // dial by this much, in thirds
};

struct Debrief {
  std::size_t frames = 0, bursts = 0, measured = 0;
  std::size_t keep = 0, undecided = 0, reject = 0;
  std::string from, to;  // "2026-04-12 13:20", by the camera's clock; empty where unknown
  Shares all;
  std::vector<SettingBins> settings;
  // Of the frames whose sensor values were read, or where those are few, of the renderings.
  std::vector<double> headroom_ev;
  bool headroom_from_sensor = false;
  std::vector<Advice> advice;
  std::vector<LightDrift> light;
};

// Takes bursts as they come, so that nobody has to hold a whole outing with its pictures.
class DebriefMaker {
 public:
  void add(const BurstOutcome& burst);
  Debrief finish() const;

 private:
  std::vector<FrameCost> frames_;
  std::vector<BurstLight> light_;
  std::size_t bursts_ = 0;
  std::optional<std::int64_t> first_ms_, last_ms_;  // local
};
Debrief debrief(const std::vector<BurstOutcome>& bursts);

std::string debrief_text(const Debrief& debrief);
std::string debrief_json(const Debrief& debrief);  // one object; ends with a newline
// A page with its plots, nothing outside itself, no script. `title`: of the outing, a folder's name.
std::string debrief_page(const Debrief& debrief, const std::string& title);
std::string debrief_page(const std::vector<BurstOutcome>& bursts, const std::string& title);

}  // namespace burstsieve::report
