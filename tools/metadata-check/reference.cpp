#include "reference.h"

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <fstream>
#include <nlohmann/json.hpp>
#include <sstream>

namespace check {
namespace {

std::string run(const std::string& command) {
  std::string out;
  std::FILE* pipe = popen(command.c_str(), "r");
  if (pipe == nullptr) return out;
  char buffer[65536];
  std::size_t n = 0;
  while ((n = fread(buffer, 1, sizeof buffer, pipe)) > 0) out.append(buffer, n);
  pclose(pipe);
  return out;
}

std::string quoted(const std::string& text) {
  std::string out = "'";
  for (const char c : text) {
    if (c == '\'')
      out += "'\\''";
    else
      out += c;
  }
  return out + "'";
}

// exiftool passes a file's own bytes through; JSON wants UTF-8. Nothing we compare needs more than ASCII.
void to_ascii(std::string& text) {
  for (char& c : text)
    if (static_cast<unsigned char>(c) >= 0x80) c = '?';
}

std::string plain(const nlohmann::json& v) {
  if (v.is_string()) return v.get<std::string>();
  if (v.is_array()) {
    std::string out;
    for (const auto& item : v) out += (out.empty() ? "" : " ") + plain(item);
    return out;
  }
  return v.dump();
}

std::map<std::string, Tags> ask(const std::string& arguments) {
  std::string text = run("exiftool -j -G1 -q -m " + arguments + " 2>/dev/null");
  to_ascii(text);
  std::map<std::string, Tags> out;
  const auto json = nlohmann::json::parse(text, nullptr, false);
  if (!json.is_array()) return out;
  for (const auto& file : json) {
    Tags& tags = out[plain(file.at("SourceFile"))];
    for (const auto& [key, value] : file.items()) tags[key] = plain(value);
  }
  return out;
}

std::vector<double> numbers(const std::string& text) {
  std::vector<double> out;
  std::istringstream in(text);
  std::string word;
  while (in >> word) {
    char* end = nullptr;
    const double v = std::strtod(word.c_str(), &end);
    if (end == word.c_str() || *end != 0) return {};
    out.push_back(v);
  }
  return out;
}

std::string trimmed(std::string text) {
  const auto blank = [](char c) { return c == ' ' || c == '\t' || c == '\0' || c == '\n' || c == '\r'; };
  while (!text.empty() && blank(text.back())) text.pop_back();
  while (!text.empty() && blank(text.front())) text.erase(0, 1);
  return text;
}

bool has(const std::string& text, const char* word) {
  return text.find(word) != std::string::npos;
}

int orientation(const Tags& t) {
  const auto v = number_of(t, {"IFD0:Orientation"});
  return v && *v >= 1 && *v <= 8 ? static_cast<int>(*v) : 1;
}

// From the stored layout to the upright one, written out per value so as not to share code with the engine.
Area turned(Area a, int orient) {
  const double x = a.x;
  const double y = a.y;
  switch (orient) {
    case 2:
      a.x = 1 - x;
      break;
    case 3:
      a.x = 1 - x;
      a.y = 1 - y;
      break;
    case 4:
      a.y = 1 - y;
      break;
    case 5:
      a.x = y;
      a.y = x;
      break;
    case 6:
      a.x = 1 - y;
      a.y = x;
      break;
    case 7:
      a.x = 1 - y;
      a.y = 1 - x;
      break;
    case 8:
      a.x = y;
      a.y = 1 - x;
      break;
    default:
      break;
  }
  if (orient >= 5) std::swap(a.w, a.h);
  return a;
}

// A bare metadata file, not a photograph.
bool container(const Tags& t) {
  const std::string name = text_of(t, {"System:FileName"});
  return name.size() > 4 && name.compare(name.size() - 4, 4, ".exv") == 0;
}

std::optional<Area> canon(const Tags& t) {
  const auto xs = numbers(text_of(t, {"Canon:AFAreaXPositions"}));
  const auto ys = numbers(text_of(t, {"Canon:AFAreaYPositions"}));
  auto ws = numbers(text_of(t, {"Canon:AFAreaWidths"}));
  auto hs = numbers(text_of(t, {"Canon:AFAreaHeights"}));
  if (ws.empty()) ws.assign(xs.size(), number_of(t, {"Canon:AFAreaWidth"}).value_or(0));
  if (hs.empty()) hs.assign(xs.size(), number_of(t, {"Canon:AFAreaHeight"}).value_or(0));
  const auto focus = numbers(text_of(t, {"Canon:AFPointsInFocus"}));
  const auto w = number_of(t, {"Canon:AFImageWidth"});
  const auto h = number_of(t, {"Canon:AFImageHeight"});
  const double valid = number_of(t, {"Canon:ValidAFPoints"}).value_or(0);
  if (!w || !h || *w <= 0 || *h <= 0) return std::nullopt;
  const double up = has(text_of(t, {"IFD0:Model", "CanonRaw:Model"}), "EOS") ? -1 : 1;
  double left = 9, right = -9, top = 9, bottom = -9;
  for (std::size_t i = 0; i < xs.size() && i < ys.size() && static_cast<double>(i) < valid; ++i) {
    if (i / 16 >= focus.size()) break;
    const long word = static_cast<long>(focus[i / 16]) & 0xffff;
    if ((word >> (i % 16) & 1) == 0 || i >= ws.size() || i >= hs.size()) continue;
    left = std::min(left, .5 + (xs[i] - ws[i] / 2) / *w);
    right = std::max(right, .5 + (xs[i] + ws[i] / 2) / *w);
    top = std::min(top, .5 + (up * ys[i] - hs[i] / 2) / *h);
    bottom = std::max(bottom, .5 + (up * ys[i] + hs[i] / 2) / *h);
  }
  if (right <= left) return std::nullopt;
  return Area{(left + right) / 2, (top + bottom) / 2, right - left, bottom - top};
}

std::optional<Area> nikon(const Tags& t) {
  const auto iw = number_of(t, {"Nikon:AFImageWidth"});
  const auto ih = number_of(t, {"Nikon:AFImageHeight"});
  const auto x = number_of(t, {"Nikon:AFAreaXPosition"});
  const auto y = number_of(t, {"Nikon:AFAreaYPosition"});
  const auto w = number_of(t, {"Nikon:AFAreaWidth"});
  const auto h = number_of(t, {"Nikon:AFAreaHeight"});
  if (iw && ih && x && y && w && h) return Area{*x / *iw, *y / *ih, *w / *iw, *h / *ih};
  const auto primary = number_of(t, {"Nikon:PrimaryAFPoint"});
  if (primary && *primary == 1) return Area{.5, .5, {}, {}};
  const auto focus = number_of(t, {"Nikon:AFPointsInFocus"});
  if (!primary && focus && *focus == 1) return Area{.5, .5, {}, {}};
  return std::nullopt;
}

std::optional<Area> subject(const Tags& t) {
  const auto v = numbers(text_of(t, {"ExifIFD:SubjectArea", "ExifIFD:SubjectLocation"}));
  const auto w = number_of(t, {"ExifIFD:ExifImageWidth"});
  const auto h = number_of(t, {"ExifIFD:ExifImageHeight"});
  if (v.size() < 2 || !w || !h) return std::nullopt;
  Area a{v[0] / *w, v[1] / *h, {}, {}};
  if (v.size() == 4) {
    a.w = v[2] / *w;
    a.h = v[3] / *h;
  }
  return a;
}

}  // namespace

std::map<std::string, Reference> ask_exiftool(const std::vector<std::string>& files,
                                              const std::string& work) {
  const std::string list = work + "/files.txt";
  std::ofstream out(list);
  for (const std::string& f : files) out << f << '\n';
  out.close();
  std::map<std::string, Reference> answers;
  const std::string from_list = " -@ " + quoted(list);
  for (auto& [file, tags] : ask("-n" + from_list)) answers[file].numeric = std::move(tags);
  for (auto& [file, tags] : ask("-ContinuousDrive -DriveMode -ReleaseMode -BurstMode -ShootingMode "
                                "-AutoBracketing -SelfTimer" +
                                from_list))
    answers[file].printed = std::move(tags);
  return answers;
}

std::string text_of(const Tags& tags, const std::vector<std::string>& keys) {
  for (const std::string& key : keys)
    if (const auto at = tags.find(key); at != tags.end()) return trimmed(at->second);
  return {};
}

std::optional<double> number_of(const Tags& tags, const std::vector<std::string>& keys) {
  const auto v = numbers(text_of(tags, keys));
  if (v.empty() || !std::isfinite(v[0])) return std::nullopt;
  return v[0];
}

std::string maker_of(const std::string& make) {
  std::string m;
  for (const char c : make) m += static_cast<char>(c >= 'A' && c <= 'Z' ? c + 32 : c);
  for (const char* name : {"canon", "nikon", "sony", "fujifilm", "panasonic", "olympus", "pentax"})
    if (m.rfind(name, 0) == 0) return name;
  if (m.rfind("om digital", 0) == 0) return "olympus";
  if (m.rfind("ricoh", 0) == 0) return "pentax";
  return "other";
}

std::optional<std::string> time_of(const Tags& t) {
  struct Source {
    const char *time, *fraction, *offset;
  };
  for (const Source& s :
       {Source{"ExifIFD:DateTimeOriginal", "ExifIFD:SubSecTimeOriginal", "ExifIFD:OffsetTimeOriginal"},
        Source{"IFD0:DateTimeOriginal", "ExifIFD:SubSecTimeOriginal", "ExifIFD:OffsetTimeOriginal"},
        Source{"CanonRaw:DateTimeOriginal", "", ""},
        Source{"ExifIFD:CreateDate", "ExifIFD:SubSecTimeDigitized", "ExifIFD:OffsetTimeDigitized"},
        Source{"IFD0:ModifyDate", "ExifIFD:SubSecTime", "ExifIFD:OffsetTime"}}) {
    const std::string time = text_of(t, {s.time}).substr(0, 19);
    if (time.size() < 19 || time.find_first_of("123456789") == std::string::npos) continue;
    std::string fraction = text_of(t, {s.fraction});
    if (!fraction.empty() && fraction.find_first_not_of("0123456789") == std::string::npos)
      fraction = "." + (fraction + "000").substr(0, 3);
    else
      fraction.clear();
    return time + fraction + text_of(t, {s.offset});
  }
  return std::nullopt;
}

std::string plain_serial(const std::string& text) {
  std::string out;
  const std::size_t from = text.rfind("NO=", 0) == 0 ? 3 : 0;  // old Nikon bodies
  for (const char c : text.substr(from))
    if (c != ' ' && !(c == '0' && out.empty())) out += c;
  return out;
}

std::optional<std::string> serial_of(const Tags& t) {
  const std::string s = plain_serial(
      text_of(t, {"ExifIFD:SerialNumber", "Canon:SerialNumber", "CanonRaw:SerialNumber", "Nikon:SerialNumber",
                  "Olympus:SerialNumber", "Pentax:SerialNumber", "Panasonic:InternalSerialNumber",
                  "FujiFilm:InternalSerialNumber", "IFD0:CameraSerialNumber", "IFD0:SerialNumber"}));
  if (s.empty()) return std::nullopt;
  return s;
}

std::optional<std::string> size_of(const Tags& t) {
  const auto number = [&](const char* key) { return number_of(t, {key}).value_or(0); };
  double w = 0;
  double h = 0;
  if (text_of(t, {"File:FileType"}) == "JPEG") {
    w = number("File:ImageWidth");
    h = number("File:ImageHeight");
  }
  if (!(w > 0 && h > 0)) {
    w = number("ExifIFD:ExifImageWidth");
    h = number("ExifIFD:ExifImageHeight");
  }
  if (!(w > 0 && h > 0)) {
    if (container(t)) return std::nullopt;  // what size there is belongs to a thumbnail
    const auto both = numbers(text_of(t, {"Composite:ImageSize"}));
    if (both.size() != 2) return std::nullopt;
    w = both[0];
    h = both[1];
  }
  if (!(w > 0 && h > 0)) return std::nullopt;
  if (orientation(t) >= 5) std::swap(w, h);
  return std::to_string(static_cast<long>(w)) + "x" + std::to_string(static_cast<long>(h));
}

std::optional<Area> area_of(const std::string& maker, const Tags& t) {
  std::optional<Area> a;
  if (maker == "canon") a = canon(t);
  if (maker == "nikon") a = nikon(t);
  if (maker == "sony") {
    const auto v = numbers(text_of(t, {"Sony:FocusLocation"}));
    if (v.size() == 4 && v[0] > 0 && v[1] > 0) a = Area{v[2] / v[0], v[3] / v[1], {}, {}};
  }
  if (maker == "fujifilm") {
    const auto v = numbers(text_of(t, {"FujiFilm:FocusPixel"}));
    const auto w = number_of(t, {"ExifIFD:ExifImageWidth"});
    const auto h = number_of(t, {"ExifIFD:ExifImageHeight"});
    if (v.size() == 2 && w && h && *w > 0 && *h > 0) a = Area{v[0] / *w, v[1] / *h, {}, {}};
  }
  if (maker == "olympus") {
    const auto v = numbers(text_of(t, {"Olympus:AFPointSelected"}));
    if (v.size() == 4) a = Area{(v[0] + v[2]) / 2, (v[1] + v[3]) / 2, {}, {}};
  }
  if (maker == "panasonic") {
    const auto v = numbers(text_of(t, {"Panasonic:AFPointPosition"}));
    if (v.size() == 2 && v[0] < 1 && v[1] < 1) a = Area{v[0], v[1], {}, {}};
  }
  if (maker == "pentax") {
    // The K-3 states bits, other bodies a number; these are exiftool's values for "Center".
    const std::string model = text_of(t, {"IFD0:Model"});
    const std::string point = text_of(t, {"Pentax:AFPointsInFocus"});
    const bool bits = model == "PENTAX K-3";
    if (bits ? point == "8192" : point == "5" || point == "19") a = Area{.5, .5, {}, {}};
  }
  if (!a) a = subject(t);
  if (!a || !(a->x >= 0 && a->x <= 1 && a->y >= 0 && a->y <= 1)) return std::nullopt;
  return turned(*a, orientation(t));
}

// By exiftool's words, not its numbers, so that our tables are held against its tables.
std::optional<std::string> drive_of(const std::string& maker, const Reference& r) {
  const auto word = [&](const char* key) { return text_of(r.printed, {key}); };
  const auto judge = [](const std::string& text) -> std::optional<std::string> {
    if (text.empty()) return std::nullopt;
    if (has(text, "Bracket")) return "bracket";
    if (has(text, "Self-timer")) return "self_timer";
    if (has(text, "Contin") || has(text, "Burst")) return "continuous";
    if (has(text, "Single") || has(text, "Normal")) return "single";
    return std::nullopt;
  };
  if (maker == "canon") {
    const std::string timer = word("Canon:SelfTimer");
    const auto mode = judge(word("Canon:ContinuousDrive"));
    return mode && *mode == "single" && !timer.empty() && timer != "Off"
               ? std::optional<std::string>("self_timer")
               : mode;
  }
  if (maker == "nikon") {
    const std::string text = word("Nikon:ShootingMode");
    if (text.empty()) return std::nullopt;
    return judge(text).value_or("single");  // it lists what is switched on
  }
  if (maker == "sony") {
    const std::string timer = word("Sony:SelfTimer");
    if (word("Sony:ReleaseMode") == "Normal" && !timer.empty() && timer != "Off") return "self_timer";
    return judge(word("Sony:ReleaseMode"));
  }
  if (maker == "fujifilm") {
    const std::string bracket = word("FujiFilm:AutoBracketing");
    if (!bracket.empty() && bracket != "Off") return "bracket";
    return judge(word("FujiFilm:DriveMode"));
  }
  if (maker == "panasonic") {
    const std::string burst = word("Panasonic:BurstMode");
    const std::string timer = word("Panasonic:SelfTimer");
    if (!timer.empty() && timer.rfind("Off", 0) != 0) return "self_timer";
    if (burst == "Off") return "single";
    if (burst.rfind("On", 0) == 0 || burst == "Unlimited") return "continuous";
    return judge(burst);
  }
  if (maker == "olympus") return judge(word("Olympus:DriveMode"));
  if (maker == "pentax") return judge(word("Pentax:DriveMode"));
  return std::nullopt;
}

// What exiftool has turned into metres. Canon states two ends, in either order; 65534 cm and more is
// infinity.
std::optional<Distance> distance_of(const Tags& t) {
  const auto known = [&](const char* key) {
    const auto v = number_of(t, {key});
    return v && *v > 0 && *v < 1e4 ? v : std::nullopt;
  };
  if (const auto exif = known("ExifIFD:SubjectDistance")) return Distance{*exif, {}, {}};
  if (const auto upper = known("Canon:FocusDistanceUpper")) {
    const auto lower = known("Canon:FocusDistanceLower");
    if (*upper > 655.33 || (lower && *lower > 655.33)) return std::nullopt;
    if (!lower) return Distance{*upper, {}, {}};
    const double sum = *upper + *lower;
    return Distance{2 * *upper * *lower / sum, std::min(*upper, *lower), std::max(*upper, *lower)};
  }
  for (const char* key : {"Nikon:FocusDistance", "Olympus:FocusDistance", "Minolta:FocusDistance",
                          "FLIR:FocusDistance", "Composite:FocusDistance2"})
    if (const auto v = known(key)) return Distance{*v, {}, {}};
  return std::nullopt;
}

std::optional<long> sequence_of(const Tags& t) {
  const auto v = number_of(t, {"Canon:SequenceNumber", "Sony:SequenceNumber", "FujiFilm:SequenceNumber",
                               "Panasonic:SequenceNumber"});
  if (!v || *v < 1) return std::nullopt;
  return static_cast<long>(*v);
}

std::optional<long> shutter_count_of(const Tags& t) {
  const auto v =
      number_of(t, {"Nikon:ShutterCount", "Pentax:ShutterCount", "Canon:ShutterCount", "Sony:ShutterCount"});
  if (!v || *v < 1) return std::nullopt;
  return static_cast<long>(*v);
}

std::optional<long> file_number_of(const Tags& t) {
  const auto v =
      number_of(t, {"Nikon:FileNumber", "Canon:FileNumber", "CanonRaw:FileNumber", "Composite:FileNumber"});
  if (!v || static_cast<long>(*v) % 10000 == 0) return std::nullopt;
  return static_cast<long>(*v) % 10000;
}

std::string expected_format(const Tags& t) {
  if (container(t)) return {};
  const std::string type = text_of(t, {"File:FileType"});
  for (const char* known :
       {"JPEG", "CR2", "CR3", "CRW", "NEF", "NRW", "ARW", "SR2", "RAF", "ORF", "RW2", "PEF",
        "DNG",  "MRW", "X3F", "IIQ", "ERF", "3FR", "MEF", "MOS", "KDC", "DCR", "SRW", "RAW"})
    if (type == known) return type;
  return {};
}

}  // namespace check
