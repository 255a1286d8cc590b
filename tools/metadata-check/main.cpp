// metadata-check [--data DIR] [--floors FILE] [--record FILE] [--head BYTES] [--list]
// Reads every camera file of the fetched test data (tools/test-data.sh camera) with our sniffer and metadata
// reader, and holds each field against exiftool. Prints one table and every disagreement.
// Exit: 0 as good as the recorded floors or better, 1 worse, 2 usage. Prints "SKIP: ..." and ends with 0 when
// the data or exiftool is missing.
#include <fmt/format.h>
#include <unistd.h>

#include <algorithm>
#include <cmath>
#include <cstdlib>
#include <ctime>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <map>
#include <set>
#include <sstream>

#include "burstsieve/decode/metadata.h"
#include "burstsieve/decode/sniff.h"
#include "reference.h"

namespace fs = std::filesystem;

namespace {

struct Options {
  fs::path data;
  fs::path floors;
  fs::path record;
  std::size_t head = burstsieve::decode::kMetadataHead;
  bool list = false;
};

fs::path default_data() {
  if (const char* dir = std::getenv("BURSTSIEVE_TEST_DATA"); dir != nullptr && *dir != 0) return dir;
  if (const char* dir = std::getenv("XDG_CACHE_HOME"); dir != nullptr && *dir != 0)
    return fs::path(dir) / "burstsieve-test-data";
  const char* home = std::getenv("HOME");
  return fs::path(home != nullptr ? home : ".") / ".cache" / "burstsieve-test-data";
}

std::vector<fs::path> camera_files(const fs::path& data) {
  std::vector<fs::path> out;
  for (const char* part : {"exiv2/test/data", "libimage-exiftool-perl/t/images", "exif/test"}) {
    std::error_code error;
    for (const auto& entry : fs::recursive_directory_iterator(data / part, error))
      if (entry.is_regular_file()) out.push_back(entry.path());
  }
  std::sort(out.begin(), out.end());
  return out;
}

// Files made to break readers: read here, and must not crash us, but there is no right answer to compare.
bool damaged_on_purpose(const std::string& name) {
  for (const char* part : {"poc", "POC", "ghsa", "invalid-mem", "overread", "coverage", "fuzz", "crash"})
    if (name.find(part) != std::string::npos) return true;
  return false;
}

struct Score {
  int agree = 0, differ = 0, missing = 0, extra = 0;
};
struct Finding {
  std::string file, maker, field, kind, ours, theirs;
};

class Tally {
 public:
  void add(const std::string& file, const std::string& maker, const std::string& field,
           const std::optional<std::string>& ours, const std::optional<std::string>& theirs, bool same) {
    if (!ours && !theirs) return;
    Score& s = scores_[maker][field];
    if (ours && theirs) {
      (same ? s.agree : s.differ)++;
      if (!same) findings_.push_back({file, maker, field, "differ", *ours, *theirs});
    } else if (theirs) {
      ++s.missing;
      findings_.push_back({file, maker, field, "missing", "-", *theirs});
    } else {
      ++s.extra;
      findings_.push_back({file, maker, field, "extra", *ours, "-"});
    }
  }
  const std::map<std::string, std::map<std::string, Score>>& scores() const { return scores_; }
  const std::vector<Finding>& findings() const { return findings_; }

 private:
  std::map<std::string, std::map<std::string, Score>> scores_;
  std::vector<Finding> findings_;
};

std::optional<std::string> some(const std::string& text) {
  return text.empty() ? std::nullopt : std::optional<std::string>(text);
}

std::string ascii(std::string text) {
  for (char& c : text)
    if (static_cast<unsigned char>(c) >= 0x80) c = '?';
  return text;
}

std::optional<std::string> our_time(const burstsieve::Capture& c) {
  if (!c.time_ms) return std::nullopt;
  const std::int64_t local = *c.time_ms + std::int64_t{c.utc_offset_minutes.value_or(0)} * 60'000;
  const std::int64_t ms = ((local % 1000) + 1000) % 1000;
  const std::time_t seconds = (local - ms) / 1000;
  std::tm parts{};
  if (gmtime_r(&seconds, &parts) == nullptr) return std::nullopt;
  std::string out = fmt::format("{:04}:{:02}:{:02} {:02}:{:02}:{:02}", parts.tm_year + 1900, parts.tm_mon + 1,
                                parts.tm_mday, parts.tm_hour, parts.tm_min, parts.tm_sec);
  if (c.subsecond_known) out += fmt::format(".{:03}", ms);
  if (const auto offset = c.utc_offset_minutes)
    out +=
        fmt::format("{}{:02}:{:02}", *offset < 0 ? '-' : '+', std::abs(*offset) / 60, std::abs(*offset) % 60);
  return out;
}

const char* drive_name(burstsieve::DriveMode mode) {
  switch (mode) {
    case burstsieve::DriveMode::single:
      return "single";
    case burstsieve::DriveMode::continuous:
      return "continuous";
    case burstsieve::DriveMode::self_timer:
      return "self_timer";
    case burstsieve::DriveMode::bracket:
      return "bracket";
    case burstsieve::DriveMode::unknown:
      break;
  }
  return "";
}

void compare_number(Tally& tally, const std::string& file, const std::string& maker, const char* field,
                    std::optional<double> ours, std::optional<double> theirs) {
  if (theirs && !(*theirs > 0)) theirs.reset();
  const bool same = ours && theirs && std::abs(*ours - *theirs) <= 1e-3 * *theirs;
  tally.add(file, maker, field, ours ? some(fmt::format("{:g}", *ours)) : std::nullopt,
            theirs ? some(fmt::format("{:g}", *theirs)) : std::nullopt, same);
}

template <class T>
void compare_count(Tally& tally, const std::string& file, const std::string& maker, const char* field,
                   const std::optional<T>& ours, const std::optional<long>& theirs) {
  const bool same = ours && theirs && static_cast<long>(*ours) == *theirs;
  tally.add(file, maker, field, ours ? some(std::to_string(*ours)) : std::nullopt,
            theirs ? some(std::to_string(*theirs)) : std::nullopt, same);
}

void compare_text(Tally& tally, const std::string& file, const std::string& maker, const char* field,
                  const std::optional<std::string>& ours, const std::optional<std::string>& theirs) {
  tally.add(file, maker, field, ours, theirs, ours == theirs);
}

void compare_area(Tally& tally, const std::string& file, const std::string& maker,
                  const burstsieve::Capture& c, const std::optional<check::Area>& theirs) {
  std::optional<std::string> mine;
  if (c.af)
    mine = fmt::format("{:.4f},{:.4f} {:.4f}x{:.4f}", c.af->box.centre_x(), c.af->box.centre_y(), c.af->box.w,
                       c.af->box.h);
  std::optional<std::string> reference;
  bool same = false;
  if (theirs) {
    reference = fmt::format("{:.4f},{:.4f} {:.4f}x{:.4f}", theirs->x, theirs->y, theirs->w.value_or(0),
                            theirs->h.value_or(0));
    // A point near the edge: our square is cut at the frame, so its centre may move by half its side.
    const auto near = [](double a, double b, double side) {
      return std::abs(a - b) <= (b < side || b > 1 - side ? side / 2 : .0005);
    };
    same = c.af && near(c.af->box.centre_x(), theirs->x, theirs->w ? 0 : .06) &&
           near(c.af->box.centre_y(), theirs->y, theirs->h ? 0 : .09);
    if (same && theirs->w && theirs->h)
      same = std::abs(c.af->box.w - *theirs->w) <= .0005 && std::abs(c.af->box.h - *theirs->h) <= .0005;
  }
  tally.add(file, maker, "af", mine, reference, same);
}

// A range is compared where exiftool has one; ours of other makers is the step of their scale.
void compare_distance(Tally& tally, const std::string& file, const std::string& maker,
                      const std::optional<burstsieve::SubjectDistance>& ours,
                      const std::optional<check::Distance>& theirs) {
  const auto one = [](const auto& d) { return d ? std::optional<double>(d->metres) : std::nullopt; };
  compare_number(tally, file, maker, "distance", one(ours), one(theirs));
  if (!theirs || !theirs->nearest) return;
  compare_number(tally, file, maker, "nearest", ours ? ours->nearest : std::nullopt, theirs->nearest);
  compare_number(tally, file, maker, "farthest", ours ? ours->farthest : std::nullopt, theirs->farthest);
}

void compare(Tally& tally, const std::string& file, const burstsieve::Capture& c, const check::Reference& r) {
  const check::Tags& t = r.numeric;
  const std::string make = check::text_of(t, {"IFD0:Make", "CanonRaw:Make"});
  if (make.empty()) return;  // not a camera's file
  const std::string maker = check::maker_of(make);
  compare_text(tally, file, maker, "make", some(ascii(c.make)), some(make));
  compare_text(tally, file, maker, "model", some(ascii(c.model)),
               some(check::text_of(t, {"IFD0:Model", "CanonRaw:Model"})));
  compare_text(tally, file, maker, "time", our_time(c), check::time_of(t));
  compare_text(tally, file, maker, "serial", some(check::plain_serial(c.serial)), check::serial_of(t));
  compare_number(tally, file, maker, "focal", c.focal_mm, check::number_of(t, {"ExifIFD:FocalLength"}));
  compare_number(tally, file, maker, "f-number", c.f_number, check::number_of(t, {"ExifIFD:FNumber"}));
  compare_number(tally, file, maker, "exposure", c.exposure_s, check::number_of(t, {"ExifIFD:ExposureTime"}));
  compare_number(tally, file, maker, "iso", c.iso, check::number_of(t, {"ExifIFD:ISO"}));
  if (const auto o = check::number_of(t, {"IFD0:Orientation"}); o && *o >= 1 && *o <= 8)
    compare_number(tally, file, maker, "orientation", c.orientation, o);
  compare_text(tally, file, maker, "size",
               c.width > 0 ? some(fmt::format("{}x{}", c.width, c.height)) : std::nullopt, check::size_of(t));
  compare_area(tally, file, maker, c, check::area_of(maker, t));
  compare_distance(tally, file, maker, c.distance, check::distance_of(t));
  compare_text(tally, file, maker, "drive", some(drive_name(c.drive)), check::drive_of(maker, r));
  compare_count(tally, file, maker, "sequence", c.sequence_number, check::sequence_of(t));
  compare_count(tally, file, maker, "shutter-count", c.shutter_count, check::shutter_count_of(t));
  compare_count(tally, file, maker, "file-number", c.file_number, check::file_number_of(t));
}

// The recorded figures: "floor MAKER FIELD agree differ missing extra" and "known FILE FIELD reason".
struct Floors {
  std::map<std::pair<std::string, std::string>, Score> scores;
  std::map<std::pair<std::string, std::string>, std::string> known;
  std::vector<std::string> known_lines;
};

Floors read_floors(const fs::path& path) {
  Floors out;
  std::ifstream in(path);
  std::string line;
  while (std::getline(in, line)) {
    std::istringstream words(line);
    std::string kind, a, b;
    words >> kind >> a >> b;
    if (kind == "floor") {
      Score s;
      words >> s.agree >> s.differ >> s.missing >> s.extra;
      out.scores[{a, b}] = s;
    } else if (kind == "known") {
      std::string reason;
      std::getline(words, reason);
      out.known[{a, b}] = reason;
      out.known_lines.push_back(line);
    }
  }
  return out;
}

void record(const fs::path& path, const Tally& tally, const Floors& floors) {
  std::ofstream out(path);
  out << "# How far our metadata reader agrees with exiftool 12.57 over the test files of the Debian source "
         "packages\n"
         "# exiv2 0.27.6-1 and libimage-exiftool-perl 12.57+dfsg-1 and the npm package exif 0.6.0.\n"
         "# Written by: metadata-check --floors THIS_FILE --record NEW_FILE (the known lines are kept; they "
         "are\n"
         "# written by hand).\n"
         "#\n"
         "# floor MAKER FIELD agree differ missing extra: at least so many files agree; at most so many "
         "differ, lack a\n"
         "# value exiftool has, or have one exiftool lacks.\n"
         "# known FILE FIELD reason: an understood difference; FILE * explains gaps (missing, extra) of all "
         "other\n"
         "# files, never a difference.\n\n";
  for (const auto& [maker, fields] : tally.scores())
    for (const auto& [field, s] : fields)
      out << fmt::format("floor {:<10} {:<14} {:>3} {:>3} {:>3} {:>3}\n", maker, field, s.agree, s.differ,
                         s.missing, s.extra);
  out << '\n';
  for (const std::string& line : floors.known_lines) out << line << '\n';
}

int worse_than(const Floors& floors, const Tally& tally) {
  int bad = 0;
  for (const auto& [key, floor] : floors.scores) {
    Score now;
    if (const auto m = tally.scores().find(key.first); m != tally.scores().end())
      if (const auto f = m->second.find(key.second); f != m->second.end()) now = f->second;
    if (now.agree >= floor.agree && now.differ <= floor.differ && now.missing <= floor.missing &&
        now.extra <= floor.extra)
      continue;
    fmt::print("WORSE {} {}: agree {} (at least {}), differ {} (at most {}), missing {} (at most {}), ",
               key.first, key.second, now.agree, floor.agree, now.differ, floor.differ, now.missing,
               floor.missing);
    fmt::print("extra {} (at most {})\n", now.extra, floor.extra);
    ++bad;
  }
  return bad;
}

std::optional<Options> parse(int argc, char** argv) {
  Options o;
  o.data = default_data();
  for (int i = 1; i < argc; ++i) {
    const std::string a = argv[i];
    if (a == "--list") {
      o.list = true;
    } else if (i + 1 < argc && a == "--data") {
      o.data = argv[++i];
    } else if (i + 1 < argc && a == "--floors") {
      o.floors = argv[++i];
    } else if (i + 1 < argc && a == "--record") {
      o.record = argv[++i];
    } else if (i + 1 < argc && a == "--head") {
      o.head = std::strtoul(argv[++i], nullptr, 10);
    } else {
      return std::nullopt;
    }
  }
  return o;
}

// What reading all the files brought.
struct Outcome {
  Tally tally;
  int read = 0, compared = 0, lost = 0;
  std::map<std::string, std::vector<std::string>> notes;  // note -> files that have it
};

void check_file(const fs::path& path, const check::Reference* reference, const Options& o, Outcome& out) {
  const std::string name = path.filename().string();
  std::ifstream in(path, std::ios::binary);
  burstsieve::ByteBuffer head(65536);
  in.read(reinterpret_cast<char*>(head.data()), static_cast<std::streamsize>(head.size()));
  head.resize(static_cast<std::size_t>(in.gcount()));
  const auto kind = burstsieve::decode::sniff(head, name);
  if (damaged_on_purpose(name)) reference = nullptr;
  if (reference != nullptr)
    compare_text(out.tally, name, "all", "format", kind ? some(kind->format) : std::nullopt,
                 some(check::expected_format(reference->numeric)));
  if (!kind && path.extension() != ".exv") return;
  const bool raw = kind && kind->kind == burstsieve::FileKind::raw;
  const auto capture = burstsieve::decode::read_capture_at(path.string(), raw, burstsieve::Limits{}, o.head);
  if (!capture) {
    fmt::print("LOST {}\n", capture.error().line());
    ++out.lost;
    return;
  }
  ++out.read;
  for (const std::string& note : capture->notes) out.notes[note.substr(0, 60)].push_back(name);
  if (reference == nullptr) return;
  ++out.compared;
  compare(out.tally, name, *capture, *reference);
}

void print_table(const Tally& tally) {
  fmt::print("{:<10} {:<14} {:>6} {:>6} {:>8} {:>6}\n", "maker", "field", "agree", "differ", "missing",
             "extra");
  for (const auto& [maker, fields] : tally.scores())
    for (const auto& [field, s] : fields)
      fmt::print("{:<10} {:<14} {:>6} {:>6} {:>8} {:>6}\n", maker, field, s.agree, s.differ, s.missing,
                 s.extra);
  fmt::print("\n");
}

// Prints the disagreements; returns how many contradictions have no known reason.
int print_findings(const Tally& tally, const Floors& floors, bool all) {
  int unexplained = 0;
  for (const Finding& f : tally.findings()) {
    const bool differ = f.kind == "differ";
    std::string reason;
    if (const auto k = floors.known.find({f.file, f.field}); k != floors.known.end())
      reason = k->second;
    else if (const auto any = floors.known.find({"*", f.field}); any != floors.known.end() && !differ)
      reason = any->second;
    if (differ && reason.empty()) ++unexplained;
    if (differ || all)
      fmt::print("{} {} {} {}: ours {} | exiftool {}{}\n", f.kind, f.maker, f.file, f.field, f.ours, f.theirs,
                 reason.empty() ? "" : " --" + reason);
  }
  return unexplained;
}

int check_all(const Options& o) {
  const auto files = camera_files(o.data);
  if (files.empty()) {
    fmt::print("SKIP: no camera files in {} (tools/test-data.sh camera fetches them)\n", o.data.string());
    return 0;
  }
  if (std::system("exiftool -ver >/dev/null 2>&1") != 0) {
    fmt::print("SKIP: exiftool is not installed (package libimage-exiftool-perl)\n");
    return 0;
  }
  std::vector<std::string> names;
  for (const auto& f : files) names.push_back(f.string());
  const fs::path work = fs::temp_directory_path() / fmt::format("metadata-check-{}", ::getpid());
  fs::create_directories(work);
  const auto reference = check::ask_exiftool(names, work.string());
  fs::remove_all(work);

  Outcome out;
  for (const auto& file : files) {
    const auto at = reference.find(file.string());
    check_file(file, at == reference.end() ? nullptr : &at->second, o, out);
  }
  const Floors floors = read_floors(o.floors);
  fmt::print("{} files, {} read, {} compared with exiftool, {} lost\n\n", names.size(), out.read,
             out.compared, out.lost);
  print_table(out.tally);
  const int unexplained = print_findings(out.tally, floors, o.list);
  if (o.list)
    for (const auto& [note, where] : out.notes)
      fmt::print("note x{} ({}): {}\n", where.size(), where.front(), note);
  if (!o.record.empty()) record(o.record, out.tally, floors);
  if (o.floors.empty()) return out.lost > 0 ? 1 : 0;
  if (floors.scores.empty()) fmt::print("no floors in {}\n", o.floors.string());
  if (unexplained > 0) fmt::print("{} differences without a known reason\n", unexplained);
  const int bad = worse_than(floors, out.tally) + out.lost;
  return bad > 0 || unexplained > 0 || floors.scores.empty() ? 1 : 0;
}

}  // namespace

int main(int argc, char** argv) {
  const auto options = parse(argc, argv);
  if (!options) {
    fmt::print(
        stderr,
        "usage: metadata-check [--data DIR] [--floors FILE] [--record FILE] [--head BYTES] [--list]\n");
    return 2;
  }
  try {
    return check_all(*options);
  } catch (const std::exception& e) {
    fmt::print(stderr, "metadata-check: {}\n", e.what());
    return 1;
  }
}
