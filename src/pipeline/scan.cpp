#include "burstsieve/pipeline/scan.h"

#include <sys/stat.h>

#include <algorithm>
#include <cerrno>
#include <cstring>
#include <memory>
#include <set>
#include <utility>

#include "burstsieve/base/file_system.h"
#include "burstsieve/base/text.h"

namespace burstsieve::pipeline {
namespace {

Error system_error(const std::string& path) {
  return {Cause::io, path, std::strerror(errno)};
}

std::int64_t changed_ns(const struct stat& st) {
  return static_cast<std::int64_t>(st.st_mtim.tv_sec) * 1'000'000'000 + st.st_mtim.tv_nsec;
}

class Walk {
 public:
  Walk(const Limits& limits, const FileReady& ready) : limits_(limits), ready_(ready) {}

  // `wanted`: the user named it, so its absence is an error and a leading dot is no reason to pass it over.
  void visit(const std::string& path, int depth, bool wanted) {
    if (full_) return;
    if (!wanted && leaf_of(path).starts_with('.')) {
      ++out_.counts.hidden;
      return;
    }
    struct stat st {};
    if (::stat(path.c_str(), &st) != 0) {
      out_.errors.push_back(system_error(path));
      return;
    }
    if (!S_ISDIR(st.st_mode) && !S_ISREG(st.st_mode)) {
      ++out_.counts.other;  // pipes and devices must not even be opened
      return;
    }
    if (!seen_.emplace(st.st_dev, st.st_ino).second) {
      ++out_.counts.repeated;
      return;
    }
    if (S_ISDIR(st.st_mode))
      folder(path, depth);
    else
      file(path, st);
  }

  Result<Scan> finish(Engine& engine) {
    if (full_)
      return Error{
          Cause::limit,
          {},
          "more than " + std::to_string(limits_.max_files) + " files in one run; name fewer folders"};
    std::sort(found_.begin(), found_.end(),
              [](const Candidate& a, const Candidate& b) { return a.path < b.path; });
    auto identities = engine.identify(found_);
    if (const Status s = engine.status(); !s) return s.error();
    for (std::size_t i = 0; i < found_.size(); ++i) sort_out(found_[i], std::move(identities[i]));
    return std::move(out_);
  }

 private:
  void folder(const std::string& path, int depth) {
    if (depth > limits_.max_folder_depth) {
      out_.errors.push_back(
          {Cause::limit, path,
           "folders nested more than " + std::to_string(limits_.max_folder_depth) + " deep"});
      return;
    }
    ++out_.counts.folders;
    auto names = fs_.list(path);
    if (!names) {
      out_.errors.push_back(names.error());
      return;
    }
    for (const std::string& name : *names)
      visit(path == "/" ? "/" + name : path + "/" + name, depth + 1, false);
  }

  void file(const std::string& path, const struct stat& st) {
    if (lower_ascii(path).ends_with(".xmp")) {
      ++out_.counts.sidecars;
      return;
    }
    if (st.st_size == 0) {
      ++out_.counts.empty;
      return;
    }
    if (ready_ && !ready_(path, static_cast<std::uint64_t>(st.st_size), changed_ns(st))) {
      ++out_.counts.waiting;
      return;
    }
    found_.push_back({path, static_cast<std::uint64_t>(st.st_size), changed_ns(st)});
    full_ = found_.size() > limits_.max_files;
  }

  void sort_out(const Candidate& file, Result<Identity> identity) {
    if (!identity) {
      out_.errors.push_back(identity.error());
      return;
    }
    if (!identity->kind) {
      ++out_.counts.other;
      return;
    }
    ++(*identity->kind == FileKind::raw ? out_.counts.raw : out_.counts.jpeg);
    out_.files.push_back({file.path, *identity->kind, std::move(identity->format), file.size, file.mtime_ns,
                          identity->fingerprint});
  }

  const Limits& limits_;
  const FileReady& ready_;
  RealFileSystem fs_;
  std::vector<Candidate> found_;
  Scan out_;
  std::set<std::pair<dev_t, ino_t>> seen_;
  bool full_ = false;
};

}  // namespace

Result<Scan> scan(Engine& engine, const std::vector<std::string>& places, const Limits& limits,
                  const FileReady& ready) {
  Walk walk(limits, ready);
  std::size_t missing = 0;
  for (std::string place : places) {
    while (place.size() > 1 && place.back() == '/') place.pop_back();
    struct stat st {};
    if (::stat(place.c_str(), &st) != 0) {
      ++missing;
      if (missing == places.size()) return system_error(place);
    }
    walk.visit(place, 0, true);
  }
  return walk.finish(engine);
}

}  // namespace burstsieve::pipeline
