#include "burstsieve/report/own_page.h"

#include <algorithm>
#include <string_view>

#include "burstsieve/base/durable.h"

namespace burstsieve::report {
namespace {

constexpr std::uint64_t kLargestOwnPage = 64u << 20;  // ours are a few MB at most

}  // namespace

bool is_own_page(Bytes bytes, const std::string& title) {
  const std::string_view start(reinterpret_cast<const char*>(bytes.data()),
                               std::min<std::size_t>(bytes.size(), 1024));
  return start.starts_with("<!DOCTYPE html>") &&
         start.find("<meta name=\"generator\" content=\"burstsieve\">") != std::string_view::npos &&
         start.find("<title>" + title) != std::string_view::npos;
}

Status write_own_page(FileSystem& fs, const std::string& path, const std::string& page,
                      const std::string& title) {
  const auto there = fs.stat(path);
  if (!there) return there.error();
  if (*there) {
    const auto before = fs.read_file(path, kLargestOwnPage);
    if (!before || !is_own_page(*before, title))
      return Error{Cause::unsupported, path,
                   "is there already and is not of burstsieve's making; it is left alone"};
  }
  return durable_replace(fs, path, Bytes(reinterpret_cast<const std::uint8_t*>(page.data()), page.size()),
                         *there);
}

}  // namespace burstsieve::report
