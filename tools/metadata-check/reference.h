// What exiftool says about a file, turned into the fields we compare. Shares no code with the readers it
// checks.
#pragma once
#include <map>
#include <optional>
#include <string>
#include <vector>

namespace check {

// One file's tags as exiftool prints them: "Group1:Tag" -> text; numbers unformatted, lists separated by
// blanks.
using Tags = std::map<std::string, std::string>;

// Centre and, where stated, size of the focus area, upright, as fractions of the frame.
struct Area {
  double x = 0, y = 0;
  std::optional<double> w, h;
};

struct Reference {
  Tags numeric;  // exiftool -n
  Tags printed;  // drive tags as exiftool words them
};

// exiftool's answers for all `files`, in one run per form, keyed by path. Empty when exiftool cannot be run.
std::map<std::string, Reference> ask_exiftool(const std::vector<std::string>& files, const std::string& work);

std::string text_of(const Tags& tags, const std::vector<std::string>& keys);  // the first present, or ""
std::optional<double> number_of(const Tags& tags, const std::vector<std::string>& keys);

std::string maker_of(const std::string& make);  // "canon" ... "other"

// Each: the expected value, or nothing where exiftool knows none.
std::optional<std::string> time_of(const Tags&);    // "YYYY:MM:DD HH:MM:SS.mmm+HH:MM", parts as far as known
std::optional<std::string> serial_of(const Tags&);  // without leading zeros and blanks
std::optional<std::string> size_of(const Tags&);    // "WxH", upright
std::optional<Area> area_of(const std::string& maker, const Tags&);
std::optional<std::string> drive_of(const std::string& maker,
                                    const Reference&);  // "single", "continuous", ...
// Where the lens was focused, metres; infinity and unknown are nothing.
struct Distance {
  double metres = 0;
  std::optional<double> nearest, farthest;
};
std::optional<Distance> distance_of(const Tags&);
std::optional<long> sequence_of(const Tags&);
std::optional<long> shutter_count_of(const Tags&);
std::optional<long> file_number_of(const Tags&);
std::string expected_format(const Tags&);  // what sniff() should call it; "" = not a photograph we read

std::string plain_serial(const std::string& text);

}  // namespace check
