#include "burstsieve/watch/ledger.h"

#include <fcntl.h>
#include <fmt/format.h>
#include <unistd.h>

#include <array>
#include <cerrno>
#include <cstring>
#include <nlohmann/json.hpp>
#include <utility>

#include "burstsieve/base/durable.h"
#include "burstsieve/base/file_system.h"
#include "burstsieve/base/fingerprint.h"
#include "burstsieve/base/text.h"
#include "paths.h"

namespace burstsieve::watch {
namespace {

using Json = nlohmann::ordered_json;
constexpr std::uint64_t kMaxLedger = 2ull
                                     << 30;  // 2,000,000 frames (Limits::max_files) at 500 bytes, doubled

std::string base_of(const std::string& state_folder, const std::string& folder) {
  const Bytes bytes(reinterpret_cast<const std::uint8_t*>(folder.data()), folder.size());
  return fmt::format("{}/ledgers/{:016x}", state_folder, fingerprint_of({}, bytes));
}

const char* name_of(LedgerLine::Kind kind) {
  if (kind == LedgerLine::Kind::frame) return "frame";
  return kind == LedgerLine::Kind::failure ? "failure" : "gone";
}

std::string text_of(const LedgerLine& l) {
  Json j{{"n", l.number}, {"at_ms", l.at_ms}, {"kind", name_of(l.kind)}, {"path", l.path}};
  if (l.kind == LedgerLine::Kind::frame) {
    j["files"] = l.files;
    j["identity"] = l.identity;
    j["burst"] = l.burst;
    j["verdict"] = l.verdict;
    if (l.rating) j["rating"] = *l.rating;
    if (l.light) {
      j["camera"] = l.camera;
      if (l.time_ms) j["time_ms"] = *l.time_ms;
      j["utc_offset_minutes"] = l.utc_offset_minutes;
      j["light"] = {l.light->mired, l.light->duv, l.light->confidence};
    }
  }
  if (!l.why.empty()) j["why"] = l.why;
  return j.dump() + "\n";
}

std::optional<LedgerLine> parsed(std::string_view text) {
  const Json j = Json::parse(text, nullptr, false);
  if (!j.is_object()) return std::nullopt;
  try {
    LedgerLine l;
    l.number = j.at("n").get<std::int64_t>();
    l.at_ms = j.at("at_ms").get<std::int64_t>();
    const auto kind = j.at("kind").get<std::string>();
    l.kind = kind == "frame"  ? LedgerLine::Kind::frame
             : kind == "gone" ? LedgerLine::Kind::gone
                              : LedgerLine::Kind::failure;
    l.path = j.at("path").get<std::string>();
    l.why = j.value("why", "");
    if (l.kind != LedgerLine::Kind::frame) return l;
    l.files = j.at("files").get<std::vector<std::string>>();
    l.identity = j.at("identity").get<std::string>();
    l.burst = j.at("burst").get<std::string>();
    l.verdict = j.at("verdict").get<std::string>();
    if (j.contains("rating")) l.rating = j.at("rating").get<int>();
    l.camera = j.value("camera", "");
    if (j.contains("time_ms")) l.time_ms = j.at("time_ms").get<std::int64_t>();
    l.utc_offset_minutes = j.value("utc_offset_minutes", 0);
    if (j.contains("light")) {
      const auto v = j.at("light").get<std::array<double, 3>>();
      if (v[0] >= 1 && v[0] <= 2000 && v[2] > 0 && v[2] <= 1) l.light = report::FrameLight{v[0], v[1], v[2]};
    }
    return l;
  } catch (const Json::exception&) {
    return std::nullopt;
  }
}

// Whole lines only; `whole` is where the last of them ends. A line that can't be read is passed over.
std::vector<LedgerLine> lines_of(std::string_view text, std::size_t& whole) {
  std::vector<LedgerLine> out;
  whole = 0;
  for (auto end = text.find('\n'); end != std::string_view::npos; end = text.find('\n', whole)) {
    if (auto line = parsed(text.substr(whole, end - whole))) out.push_back(std::move(*line));
    whole = end + 1;
  }
  return out;
}

std::string_view as_text(const ByteBuffer& bytes) {
  return {reinterpret_cast<const char*>(bytes.data()), bytes.size()};
}

void put_file(const FileRef& f, LedgerLine& line) {
  line.files.push_back(one_line(f.path));
  line.identity += fmt::format("{}.{}.{:x} ", f.size, f.mtime_ns, f.fingerprint);
}

}  // namespace

Result<Ledger> Ledger::open(const std::string& state_folder, const std::string& folder) {
  RealFileSystem fs;
  Ledger out;
  out.path_ = base_of(state_folder, folder) + ".jsonl";
  if (auto s = make_folders(fs, folder_of(out.path_), 0700); !s) return s.error();
  out.fd_ = ::open(out.path_.c_str(), O_RDWR | O_CREAT | O_APPEND | O_CLOEXEC | O_NOFOLLOW, 0600);
  if (out.fd_ < 0) return refused(out.path_);
  const auto bytes = fs.read_file(out.path_, kMaxLedger);
  if (!bytes) return bytes.error();
  std::size_t whole = 0;
  for (const LedgerLine& line : lines_of(as_text(*bytes), whole)) out.take(line);
  if (whole < bytes->size() && ::ftruncate(out.fd_, static_cast<off_t>(whole)) != 0)
    return refused(out.path_);
  return out;
}

Result<std::vector<LedgerLine>> Ledger::read(const std::string& state_folder, const std::string& folder) {
  RealFileSystem fs;
  const std::string path = base_of(state_folder, folder) + ".jsonl";
  const auto there = fs.stat(path);
  if (!there) return there.error();
  if (!*there) return std::vector<LedgerLine>();
  const auto bytes = fs.read_file(path, kMaxLedger);
  if (!bytes) return bytes.error();
  std::size_t whole = 0;
  return lines_of(as_text(*bytes), whole);
}

Ledger::Ledger(Ledger&& other) noexcept
    : fd_(std::exchange(other.fd_, -1)),
      path_(std::move(other.path_)),
      last_(other.last_),
      live_(std::move(other.live_)),
      main_of_(std::move(other.main_of_)),
      failures_(std::move(other.failures_)) {}

Ledger::~Ledger() {
  if (fd_ >= 0) ::close(fd_);
}

void Ledger::take(const LedgerLine& line) {
  last_ = std::max(last_, line.number);
  if (line.kind == LedgerLine::Kind::failure) {
    failures_[line.path] = line.why;
    return;
  }
  const auto drop = [&](const std::string& main) {
    const auto it = live_.find(main);
    if (it == live_.end()) return;
    for (const std::string& f : it->second.files) main_of_.erase(f);
    live_.erase(it);
  };
  if (line.kind == LedgerLine::Kind::gone) {
    failures_.erase(line.path);
    return drop(line.path);
  }
  drop(line.path);
  for (const std::string& f : line.files)
    if (const auto it = main_of_.find(f); it != main_of_.end()) drop(std::string(it->second));
  for (const std::string& f : line.files) {
    main_of_[f] = line.path;
    failures_.erase(f);
  }
  live_[line.path] = line;
}

Status Ledger::append(LedgerLine line) {
  line.number = last_ + 1;
  const std::string text = text_of(line);
  std::size_t at = 0;
  while (at < text.size()) {
    const auto n = ::write(fd_, text.data() + at, text.size() - at);
    if (n < 0 && errno == EINTR) continue;
    if (n < 0) {
      const Error e = refused(path_);
      // A full disk can leave half a line: the next one must not begin in it.
      if (at > 0) static_cast<void>(::write(fd_, "\n", 1) < 0);
      return e;
    }
    at += static_cast<std::size_t>(n);
  }
  take(line);
  return Done{};
}

Status Ledger::frame(const FrameOutcome& o, const std::string& burst, std::int64_t at_ms,
                     const std::string& camera) {
  LedgerLine line;
  line.at_ms = at_ms;
  line.path = one_line(o.frame.main().path);
  if (o.frame.raw) put_file(*o.frame.raw, line);
  if (o.frame.jpeg) put_file(*o.frame.jpeg, line);
  for (const FileRef& copy : o.frame.copies) put_file(copy, line);
  line.burst = one_line(burst);
  line.verdict = burstsieve::name_of(o.verdict.verdict);
  line.rating = o.verdict.rating;
  if (!o.verdict.reasons.empty()) line.why = one_line(o.verdict.reasons.front().text);
  line.camera = one_line(camera);
  line.time_ms = o.frame.capture.time_ms;
  line.utc_offset_minutes = o.frame.capture.utc_offset_minutes.value_or(0);
  line.light = report::frame_light(o.facts);
  const auto known = live_.find(line.path);
  if (known != live_.end()) {
    const LedgerLine& k = known->second;
    if (k.files == line.files && k.identity == line.identity && k.verdict == line.verdict &&
        k.rating == line.rating)
      return Done{};
  }
  return append(std::move(line));
}

Status Ledger::failure(const std::string& file, const std::string& text, std::int64_t at_ms) {
  LedgerLine line;
  line.kind = LedgerLine::Kind::failure;
  line.at_ms = at_ms;
  line.path = one_line(file);
  line.why = one_line(text);
  if (const auto known = failures_.find(line.path); known != failures_.end() && known->second == line.why)
    return Done{};
  return append(std::move(line));
}

Status Ledger::gone(const std::string& file, std::int64_t at_ms) {
  const auto main = main_of_.find(one_line(file));
  const bool failed = failures_.count(one_line(file)) != 0;
  // Of a pair that lost one half, the other half's next verdict says what is left.
  if (main == main_of_.end() ? !failed : live_.at(main->second).files.size() > 1) return Done{};
  LedgerLine line;
  line.kind = LedgerLine::Kind::gone;
  line.at_ms = at_ms;
  line.path = main == main_of_.end() ? one_line(file) : main->second;
  return append(std::move(line));
}

Status Ledger::sync() {
  while (::fdatasync(fd_) != 0)
    if (errno != EINTR) return refused(path_);
  return Done{};
}

std::vector<std::string> Ledger::files() const {
  std::vector<std::string> out;
  for (const auto& [file, main] : main_of_) out.push_back(file);
  return out;
}

Told told_of(const std::string& state_folder, const std::string& folder) {
  RealFileSystem fs;
  const auto bytes = fs.read_file(base_of(state_folder, folder) + ".told", 4096);
  if (!bytes) return {};
  const Json j = Json::parse(as_text(*bytes), nullptr, false);
  if (!j.is_object() || !j.contains("n") || !j["n"].is_number_integer()) return {};
  Told out;
  out.number = j["n"].get<std::int64_t>();
  if (j.contains("at_ms") && j["at_ms"].is_number_integer()) out.at_ms = j["at_ms"].get<std::int64_t>();
  return out;
}

Status set_told(const std::string& state_folder, const std::string& folder, const Told& told) {
  RealFileSystem fs;
  const std::string path = base_of(state_folder, folder) + ".told";
  const std::string text =
      Json{{"n", told.number}, {"at_ms", told.at_ms}, {"folder", one_line(folder)}}.dump() + "\n";
  if (auto s = make_folders(fs, folder_of(path), 0700); !s) return s.error();
  const auto seen = fs.stat(path);
  if (!seen) return seen.error();
  return durable_replace(fs, path, Bytes(reinterpret_cast<const std::uint8_t*>(text.data()), text.size()),
                         *seen);
}

}  // namespace burstsieve::watch
