#include "burstsieve/base/durable.h"

#include <fmt/format.h>

#include <algorithm>
#include <random>
#include <string_view>

namespace burstsieve {

namespace {

constexpr std::string_view kBeforeNumber = ".burstsieve-", kAfterNumber = ".tmp";
constexpr std::size_t kDigits = 16;

std::string temporary_beside(const std::string& path) {
  std::random_device source;
  const std::uint64_t number = std::uint64_t{source()} << 32 | source();
  const auto slash = path.rfind('/');
  const std::string folder = slash == std::string::npos ? "" : path.substr(0, slash + 1);
  return folder + fmt::format("{}{:0{}x}{}", kBeforeNumber, number, kDigits, kAfterNumber);
}

bool is_temporary_name(std::string_view name) {
  if (name.size() != kBeforeNumber.size() + kDigits + kAfterNumber.size()) return false;
  if (!name.starts_with(kBeforeNumber) || !name.ends_with(kAfterNumber)) return false;
  const auto digits = name.substr(kBeforeNumber.size(), kDigits);
  return digits.find_first_not_of("0123456789abcdef") == std::string_view::npos;
}

Status fill(FileSystem& fs, NewFile& file, const std::string& temporary, Bytes bytes,
            const std::optional<FileStat>& seen, const VerifyBytes& verify) {
  if (auto s = file.write(bytes); !s) return s.error();
  if (seen)
    if (auto s = file.take_after(*seen); !s) return s.error();
  if (auto s = file.sync(); !s) return s.error();
  if (auto s = file.close(); !s) return s.error();

  const auto back = fs.read_file(temporary, bytes.size());
  if (!back) return back.error();
  if (!std::equal(back->begin(), back->end(), bytes.begin(), bytes.end()))
    return Error{Cause::io, temporary, "reads back differently from what was written"};
  if (verify) return verify(*back);
  return Done{};
}

Status still_as_seen(FileSystem& fs, const std::string& path, const std::optional<FileStat>& seen) {
  const auto now = fs.stat(path);
  if (!now) return now.error();
  if (*now == seen) return Done{};
  return Error{Cause::io, path, "was changed by another program meanwhile, left alone"};
}

}  // namespace

Status durable_replace(FileSystem& fs, const std::string& path, Bytes bytes,
                       const std::optional<FileStat>& seen, const VerifyBytes& verify) {
  if (seen && seen->type != FileType::regular)
    return Error{Cause::unsupported, path, "is not a regular file, left alone"};
  const std::string temporary = temporary_beside(path);
  // A file that will take over another's permissions must not be more open than those in between.
  auto file = fs.create(temporary, seen ? 0600 : 0666);
  // The temporary's random name would tell a person nothing.
  if (!file) return Error{file.error().cause, path, file.error().text};

  Status done = fill(fs, **file, temporary, bytes, seen, verify);
  if (done) done = still_as_seen(fs, path, seen);
  if (done) done = fs.rename(temporary, path, seen.has_value());
  if (!done) {
    static_cast<void>((*file)->close());
    static_cast<void>(fs.remove(temporary));  // best effort: the first error is the one to report
    return Error{done.error().cause, path, done.error().text};
  }
  const Status synced = fs.sync_folder(folder_of(path));
  return synced ? synced : Status(Error{synced.error().cause, path, synced.error().text});
}

Status tidy_folder(FileSystem& fs, const std::string& folder) {
  const auto there = fs.stat(folder);
  if (!there) return there.error();
  if (!*there) return Done{};
  const auto names = fs.list(folder);
  if (!names) return names.error();
  Status done = Done{};
  for (const std::string& name : *names) {
    if (!is_temporary_name(name)) continue;
    const auto removed = fs.remove_abandoned(folder + "/" + name);
    if (!removed && done) done = removed.error();
  }
  const Status synced = fs.sync_folder(folder);
  return done ? synced : done;
}

}  // namespace burstsieve
