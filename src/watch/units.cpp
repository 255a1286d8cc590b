#include "burstsieve/watch/units.h"

#include <fmt/format.h>

#include <cstdlib>
#include <utility>

#include "burstsieve/base/durable.h"
#include "burstsieve/base/fingerprint.h"
#include "burstsieve/base/text.h"

namespace burstsieve::watch {
namespace {

constexpr std::string_view kSeal = "# Written by burstsieve nightly --install, seal ";
constexpr std::uint64_t kLargestUnit = 1u << 20;

Bytes as_bytes(std::string_view text) {
  return {reinterpret_cast<const std::uint8_t*>(text.data()), text.size()};
}

// one_line() writes \xNN for what is no UTF-8 (and for control characters, which are all below 0x80 but for
// C1).
bool is_utf8(const std::string& text) {
  std::string shown;
  for (const char c : text)
    if (static_cast<unsigned char>(c) >= 0x80) shown += c;
  const std::string safe = one_line(shown);
  return safe == shown;
}

struct Found {
  std::optional<FileStat> stat;
  bool ours = false;
};

Result<Found> look_at(const std::string& path, FileSystem& fs) {
  const auto stat = fs.stat(path);
  if (!stat) return stat.error();
  if (!*stat) return Found{};
  if ((*stat)->type != FileType::regular) return Found{*stat, false};
  const auto bytes = fs.read_file(path, kLargestUnit);
  if (!bytes) return bytes.error();
  return Found{*stat, seal_holds({reinterpret_cast<const char*>(bytes->data()), bytes->size()})};
}

Error not_ours(const std::string& path) {
  return {Cause::unsupported, path, "was not written by burstsieve, or was changed since; left alone"};
}

}  // namespace

Result<std::string> exec_word(const std::string& word) {
  if (!is_utf8(word) || word.find('\0') != std::string::npos)
    return Error{Cause::unsupported, word, "this name is not UTF-8 and can't stand in a systemd unit"};
  std::string out = "\"";
  for (const char c : word) {
    const auto byte = static_cast<unsigned char>(c);
    if (c == '"' || c == '\\')
      out += std::string("\\") + c;
    else if (c == '%')
      out += "%%";
    else if (byte < 0x20 || byte == 0x7F)
      out += fmt::format("\\x{:02x}", byte);
    else
      out += c;
  }
  return out + "\"";
}

Result<std::string> daily_at(const std::string& at) {
  const auto digit = [&](std::size_t i) { return at[i] >= '0' && at[i] <= '9'; };
  const auto pair = [&](std::size_t i) { return (at[i] - '0') * 10 + (at[i + 1] - '0'); };
  bool good = at.size() == 5 || at.size() == 8;
  for (std::size_t i = 0; good && i < at.size(); ++i) good = i % 3 == 2 ? at[i] == ':' : digit(i);
  if (good) good = pair(0) < 24 && pair(3) < 60 && (at.size() == 5 || pair(6) < 60);
  if (!good) return Error{Cause::unsupported, {}, "--at must be a time like 21:30, not " + one_line(at)};
  return "*-*-* " + at + (at.size() == 5 ? ":00" : "");
}

Result<NightlyUnits> nightly_units(const std::string& program, const std::vector<std::string>& arguments,
                                   const std::string& at) {
  const auto when = daily_at(at);
  if (!when) return when.error();
  std::string command;
  for (const std::string& word : arguments) {
    const auto quoted = exec_word(word);
    if (!quoted) return quoted.error();
    command += " " + *quoted;
  }
  // systemd.service(5) takes any argument, but no program with these in its name ("contains special
  // characters").
  if (program.find_first_of("\"'\\") != std::string::npos || one_line(program) != program)
    return Error{Cause::unsupported, program,
                 "systemd runs no program with quotes or backslashes in its path"};
  const auto first = exec_word(program);
  if (!first) return first.error();
  NightlyUnits out;
  // ':' keeps '$' what it is. 1: some files failed, the summary names them; 4: stopped, goes on next time.
  out.service = sealed(
      "[Unit]\n"
      "Description=burstsieve: cull what came in and write the morning summary\n"
      "\n"
      "[Service]\n"
      "Type=oneshot\n"
      "ExecStart=:" +
      *first + command +
      "\n"
      "SuccessExitStatus=1 4\n"
      "Nice=10\n"
      "IOSchedulingClass=best-effort\n"
      "IOSchedulingPriority=7\n");
  out.timer = sealed(
      "[Unit]\n"
      "Description=burstsieve every night\n"
      "\n"
      "[Timer]\n"
      "OnCalendar=" +
      *when +
      "\n"
      "Persistent=true\n"
      "\n"
      "[Install]\n"
      "WantedBy=timers.target\n");
  return out;
}

std::string sealed(const std::string& text) {
  return fmt::format("{}{:016x}\n{}", kSeal, fingerprint_of(as_bytes(text), as_bytes(text)), text);
}

bool seal_holds(std::string_view text) {
  const auto end = text.find('\n');
  if (end == std::string_view::npos) return false;
  return sealed(std::string(text.substr(end + 1))) == text;
}

Result<std::vector<std::string>> install_units(const NightlyUnits& units, const std::string& folder,
                                               FileSystem& fs) {
  if (auto s = make_folders(fs, folder, 0755); !s) return s.error();
  const std::vector<std::pair<std::string, const std::string*>> both{
      {folder + "/" + kServiceName, &units.service}, {folder + "/" + kTimerName, &units.timer}};
  std::vector<std::optional<FileStat>> seen;
  for (const auto& [path, text] : both) {
    const auto found = look_at(path, fs);
    if (!found) return found.error();
    if (found->stat && !found->ours) return not_ours(path);
    seen.push_back(found->stat);
  }
  std::vector<std::string> written;
  for (std::size_t i = 0; i < both.size(); ++i) {
    const auto& [path, text] = both[i];
    if (auto s = durable_replace(fs, path, as_bytes(*text), seen[i]); !s) return s.error();
    written.push_back(path);
  }
  return written;
}

Result<Removal> remove_units(const std::string& folder, FileSystem& fs) {
  Removal out;
  for (const char* name : {kTimerName, kServiceName}) {
    const std::string path = folder + "/" + name;
    const auto found = look_at(path, fs);
    if (!found) return found.error();
    if (!found->stat) continue;
    if (!found->ours) {
      out.left.push_back(not_ours(path));
      continue;
    }
    if (auto s = fs.remove(path); !s) return s.error();
    out.removed.push_back(path);
  }
  return out;
}

Result<std::string> user_units_folder() {
  if (const char* home = std::getenv("XDG_CONFIG_HOME"); home && home[0] == '/')
    return std::string(home) + "/systemd/user";
  if (const char* home = std::getenv("HOME"); home && home[0] == '/')
    return std::string(home) + "/.config/systemd/user";
  return Error{Cause::io, {}, "no place for the units: neither HOME nor XDG_CONFIG_HOME is set"};
}

}  // namespace burstsieve::watch
