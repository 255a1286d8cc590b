// systemd user units for the nightly run (systemd.unit(5), systemd.service(5), systemd.timer(5),
// systemd.syntax(7)).
#pragma once
#include <string>
#include <string_view>
#include <vector>

#include "burstsieve/base/file_system.h"
#include "burstsieve/base/result.h"

namespace burstsieve::watch {

inline constexpr const char* kServiceName = "burstsieve-nightly.service";
inline constexpr const char* kTimerName = "burstsieve-nightly.timer";

struct NightlyUnits {
  std::string service, timer;  // contents, sealed
};

// `word` as one argument of an Exec line that begins with ':' (no variables). Cause::unsupported for bytes
// that are not UTF-8, which unit files can't hold, and for NUL.
Result<std::string> exec_word(const std::string& word);

// "HH:MM" or "HH:MM:SS", 00:00 to 23:59:59, as OnCalendar= wants it: every day.
Result<std::string> daily_at(const std::string& at);

// `program` absolute.
Result<NightlyUnits> nightly_units(const std::string& program, const std::vector<std::string>& arguments,
                                   const std::string& at);

// The first line of a unit carries a checksum of the rest: what a person edited is no longer ours.
std::string sealed(const std::string& text);
bool seal_holds(std::string_view text);

// Writes both, or neither when one of that name is there that we did not write or that was changed since.
// The paths written.
Result<std::vector<std::string>> install_units(const NightlyUnits& units, const std::string& folder,
                                               FileSystem& fs);

struct Removal {
  std::vector<std::string> removed;
  std::vector<Error> left;  // not ours, or changed
};
Result<Removal> remove_units(const std::string& folder, FileSystem& fs);

// $XDG_CONFIG_HOME/systemd/user or ~/.config/systemd/user. Cause::io when neither variable helps.
Result<std::string> user_units_folder();

}  // namespace burstsieve::watch
