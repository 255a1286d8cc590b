#include "set_aside_manifest.h"

#include <fmt/format.h>

#include <algorithm>
#include <nlohmann/json.hpp>
#include <random>
#include <string_view>
#include <utility>

#include "burstsieve/base/durable.h"
#include "burstsieve/base/text.h"
#include "burstsieve/pipeline/set_aside.h"

namespace burstsieve::pipeline {
namespace {

using Json = nlohmann::ordered_json;

constexpr const char* kFormat = "burstsieve set-aside";
constexpr int kVersion = 1;

// Two million files of Limits::max_files at some 400 bytes are 800 MB.
constexpr std::uint64_t kMaxManifestBytes = 1ull << 30;

constexpr std::pair<AsideState, const char*> kStates[] = {{AsideState::planned, "planned"},
                                                          {AsideState::not_moved, "not-moved"},
                                                          {AsideState::aside, "aside"},
                                                          {AsideState::returning, "returning"},
                                                          {AsideState::back, "back"}};

const char* name_of(AsideState state) {
  for (const auto& [s, name] : kStates)
    if (s == state) return name;
  return "";
}

std::optional<AsideState> state_of(std::string_view name) {
  for (const auto& [s, text] : kStates)
    if (name == text) return s;
  return std::nullopt;
}

Json json_of(const ManifestFile& f) {
  return {{"kind", f.sidecar ? "sidecar" : "photograph"},
          {"from", percent_escaped(f.from)},
          {"root", percent_escaped(f.root)},
          {"to", percent_escaped(f.to)},
          {"size", f.size},
          {"mtime_ns", f.mtime_ns},
          {"mode", fmt::format("{:04o}", f.mode)},
          {"xxh3_128", f.checksum}};
}

// Whatever the manifest says, nothing is moved to or from a place outside its folder or a root.
bool stays_below(const std::string& path) {
  return !path.empty() && !path.starts_with('/') && ("/" + path + "/").find("/../") == std::string::npos &&
         path.find('\0') == std::string::npos;
}

// The functions below throw Json::exception for what is missing or of another type; take() catches it.
std::string name_in(const Json& j, const char* key) {
  auto name = percent_unescaped(j.at(key).get<std::string>());
  if (!name) throw Json::out_of_range::create(404, "bad escape in a name", &j);
  return std::move(*name);
}

std::uint32_t mode_in(const Json& j) {
  return static_cast<std::uint32_t>(std::strtoul(j.at("mode").get<std::string>().c_str(), nullptr, 8)) &
         07777;
}

ManifestFile file_in(const Json& j) {
  ManifestFile f;
  f.sidecar = j.at("kind").get<std::string>() == "sidecar";
  f.from = name_in(j, "from");
  f.root = name_in(j, "root");
  f.to = name_in(j, "to");
  f.size = j.at("size").get<std::uint64_t>();
  f.mtime_ns = j.at("mtime_ns").get<std::int64_t>();
  f.mode = mode_in(j);
  f.checksum = j.at("xxh3_128").get<std::string>();
  const std::string root = f.root.ends_with('/') ? f.root : f.root + "/";
  if (!root.starts_with('/') || !f.from.starts_with(root) || !stays_below(f.from.substr(root.size())) ||
      !stays_below(f.to))
    throw Json::out_of_range::create(404, "a path leads out of its folder", &j);
  return f;
}

ReturningFile returning_in(const Json& j) {
  return {j.at("size").get<std::uint64_t>(), j.at("mtime_ns").get<std::int64_t>(), mode_in(j),
          j.at("xxh3_128").get<std::string>()};
}

}  // namespace

Manifest::Manifest(FileSystem& fs, std::string dir) : fs_(&fs), dir_(std::move(dir)) {}

std::string Manifest::path() const {
  return dir_ + "/" + kSetAsideManifest;
}

Result<Manifest> Manifest::read(FileSystem& fs, const std::string& dir) {
  Manifest out(fs, dir);
  const auto seen = fs.stat(out.path());
  if (!seen) return seen.error();
  if (!*seen) return out;
  const auto bytes = fs.read_file(out.path(), kMaxManifestBytes);
  if (!bytes) return bytes.error();
  out.exists_ = true;
  out.seen_ = *seen;
  const std::string_view text(reinterpret_cast<const char*>(bytes->data()), bytes->size());
  std::size_t at = 0;
  for (std::size_t number = 1;; ++number) {
    const auto end = text.find('\n', at);
    if (end == std::string_view::npos) break;
    if (auto s = out.take(text.substr(at, end - at), number); !s) {
      if (number == 1) return s.error();
      out.damaged_.push_back(s.error());
    }
    at = end + 1;
  }
  if (out.key_.empty()) return Error{Cause::unsupported, out.path(), "is not a record of set-aside frames"};
  out.torn_ = at < text.size();
  if (out.torn_) out.torn_from_.assign(bytes->begin(), bytes->begin() + static_cast<std::ptrdiff_t>(at));
  return out;
}

Status Manifest::take(std::string_view line, std::size_t number) try {
  const Json j = Json::parse(line);
  if (number == 1) {
    if (j.at("format").get<std::string>() != kFormat)
      return Error{Cause::unsupported, path(), "is not a record of set-aside frames"};
    if (j.at("version").get<int>() > kVersion)
      return Error{Cause::unsupported, path(), "was written by a newer release of burstsieve"};
    key_ = j.at("key").get<std::string>();
    if (key_.empty() || key_.size() > 32 || key_.find_first_not_of("0123456789abcdef") != std::string::npos)
      return Error{Cause::unsupported, path(), "is not a record of set-aside frames"};
    return Done{};
  }
  const auto state = state_of(j.at("state").get<std::string>());
  if (!state) return Error{Cause::corrupt, path(), fmt::format("line {}: unknown state", number)};
  const auto id = j.at("frame").get<std::int64_t>();
  if (*state == AsideState::planned) {
    ManifestFrame f;
    f.id = id;
    f.run = j.at("run").get<std::int64_t>();
    f.time_ms = j.at("time_ms").get<std::int64_t>();
    f.by = j.at("rejected_by").get<std::string>();
    for (const Json& file : j.at("files")) f.files.push_back(file_in(file));
    if (f.files.empty() || (!frames_.empty() && id <= frames_.back().id))
      return Error{Cause::corrupt, path(), fmt::format("line {}: out of order", number)};
    frames_.push_back(std::move(f));
    return Done{};
  }
  ManifestFrame* f = frame(id);
  if (f == nullptr)
    return Error{Cause::corrupt, path(),
                 fmt::format("line {}: about frame {}, which is not here", number, id)};
  if (*state == AsideState::returning) {
    std::vector<std::optional<ReturningFile>> files;
    for (const Json& file : j.at("files"))
      files.push_back(file.is_null() ? std::nullopt : std::optional(returning_in(file)));
    if (files.size() != f->files.size())
      return Error{Cause::corrupt, path(), fmt::format("line {}: not the files of frame {}", number, id)};
    f->returning = std::move(files);
  }
  f->state = *state;
  return Done{};
} catch (const Json::exception& e) {
  if (number == 1) return Error{Cause::unsupported, path(), "is not a record of set-aside frames"};
  return Error{Cause::corrupt, path(), fmt::format("line {} can't be read: {}", number, one_line(e.what()))};
}

ManifestFrame* Manifest::frame(std::int64_t id) {
  const auto it = std::lower_bound(frames_.begin(), frames_.end(), id,
                                   [](const ManifestFrame& f, std::int64_t wanted) { return f.id < wanted; });
  return it != frames_.end() && it->id == id ? &*it : nullptr;
}

Status Manifest::start_writing() {
  if (out_) return Done{};
  if (!exists_) {
    std::random_device source;
    key_ = fmt::format("{:08x}{:08x}", source(), source());
    const std::string line =
        Json{{"format", kFormat}, {"version", kVersion}, {"key", key_}, {"names", "percent-escaped"}}.dump() +
        "\n";
    const ByteBuffer bytes(line.begin(), line.end());
    if (auto s = durable_replace(*fs_, path(), bytes, std::nullopt); !s) return s.error();
    exists_ = true;
  } else if (torn_) {
    if (auto s = durable_replace(*fs_, path(), torn_from_, seen_); !s) return s.error();
    torn_ = false;
    torn_from_ = {};
  }
  auto out = fs_->append(path());
  if (!out) return out.error();
  out_ = std::move(*out);
  return Done{};
}

Status Manifest::append(const std::string& line, bool sync) {
  if (auto s = start_writing(); !s) return s.error();
  if (broken_) return Error{Cause::io, path(), "could not be written before; run the command again"};
  const std::string text = line + "\n";
  Status done = out_->write(Bytes(reinterpret_cast<const std::uint8_t*>(text.data()), text.size()));
  if (done && sync) done = out_->sync();
  broken_ = !done;
  if (!done) return Error{Cause::io, path(), done.error().text};
  return Done{};
}

Result<std::int64_t> Manifest::plan(ManifestFrame f) {
  f.id = frames_.empty() ? 1 : frames_.back().id + 1;
  f.state = AsideState::planned;
  Json files = Json::array();
  for (const ManifestFile& file : f.files) files.push_back(json_of(file));
  const Json line{{"state", name_of(f.state)}, {"frame", f.id},       {"run", f.run},
                  {"time_ms", f.time_ms},      {"rejected_by", f.by}, {"files", std::move(files)}};
  const std::int64_t id = f.id;
  frames_.push_back(std::move(f));
  if (auto s = append(line.dump(), true); !s) {
    frames_.pop_back();
    return s.error();
  }
  return id;
}

Status Manifest::plan_return(std::int64_t id, std::vector<std::optional<ReturningFile>> files,
                             std::int64_t time_ms) {
  Json list = Json::array();
  for (const auto& f : files)
    list.push_back(f ? Json{{"size", f->size},
                            {"mtime_ns", f->mtime_ns},
                            {"mode", fmt::format("{:04o}", f->mode)},
                            {"xxh3_128", f->checksum}}
                     : Json());
  const Json line{{"state", name_of(AsideState::returning)},
                  {"frame", id},
                  {"time_ms", time_ms},
                  {"files", std::move(list)}};
  if (auto s = append(line.dump(), true); !s) return s.error();
  frame(id)->returning = std::move(files);
  frame(id)->state = AsideState::returning;
  return Done{};
}

Status Manifest::mark(std::int64_t id, AsideState state, std::int64_t time_ms) {
  const Json line{{"state", name_of(state)}, {"frame", id}, {"time_ms", time_ms}};
  if (auto s = append(line.dump(), false); !s) return s.error();
  frame(id)->state = state;
  return Done{};
}

Status Manifest::finish() {
  if (!out_ || broken_) return Done{};
  if (auto s = out_->sync(); !s) return Error{Cause::io, path(), s.error().text};
  return Done{};
}

std::string Manifest::temporary(std::int64_t id, std::size_t file) const {
  return fmt::format(".burstsieve-{}-{}-{}.tmp", key_, id, file);
}

std::vector<MovingFile> Manifest::moves_of(const ManifestFrame& f) const {
  std::vector<MovingFile> out;
  for (std::size_t i = 0; i < f.files.size(); ++i) {
    const ManifestFile& m = f.files[i];
    out.push_back({m.from, dir_ + "/" + m.to, m.root, dir_, m.size, m.mtime_ns, m.mode, m.checksum, m.sidecar,
                   temporary(f.id, i), std::nullopt});
  }
  return out;
}

std::vector<MovingFile> Manifest::returns_of(const ManifestFrame& f) const {
  std::vector<MovingFile> out;
  for (std::size_t i = 0; i < f.files.size() && i < f.returning.size(); ++i) {
    const ManifestFile& m = f.files[i];
    const auto& r = f.returning[i];
    if (!r) continue;
    out.push_back({dir_ + "/" + m.to, m.from, dir_, m.root, r->size, r->mtime_ns, r->mode, r->checksum,
                   m.sidecar, temporary(f.id, i), std::nullopt});
  }
  return out;
}

}  // namespace burstsieve::pipeline
