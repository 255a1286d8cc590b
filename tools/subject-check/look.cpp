#include "look.h"

#include <unistd.h>

#include <exception>
#include <filesystem>
#include <opencv2/imgcodecs.hpp>

#include "burstsieve/base/file_system.h"
#include "burstsieve/decode/metadata.h"
#include "burstsieve/decode/pixels.h"
#include "burstsieve/decode/sniff.h"
#include "burstsieve/image/activity.h"
#include "burstsieve/image/orientation.h"
#include "burstsieve/subject/energy_map.h"
#include "burstsieve/subject/finder.h"
#include "burstsieve/subject/search.h"

namespace burstsieve::subject_check {
namespace {

// A file that goes when this does.
struct Temporary {
  std::string path;
  Temporary() = default;
  Temporary(const Temporary&) = delete;
  Temporary& operator=(const Temporary&) = delete;
  ~Temporary() {
    std::error_code ignored;
    if (!path.empty()) std::filesystem::remove(path, ignored);
  }
};

Status as_jpeg(const cv::Mat& bgr, const std::string& path, Temporary& out) {
  if (bgr.empty()) return Error{Cause::unsupported, path, "no picture that can be read"};
  std::string name = (std::filesystem::temp_directory_path() / "burstsieve-subjects-XXXXXX.jpg").string();
  const int file = mkstemps(name.data(), 4);
  if (file < 0) return Error{Cause::io, name, "can't make a temporary file"};
  close(file);
  out.path = name;
  if (!cv::imwrite(name, bgr, {cv::IMWRITE_JPEG_QUALITY, 97}))
    return Error{Cause::io, name, "can't write the temporary file"};
  return Done{};
}

FileRef jpeg_at(const Temporary& temporary) {
  FileRef file;
  file.path = temporary.path;
  file.format = "JPEG";
  file.size = std::filesystem::file_size(temporary.path);
  return file;
}

Result<FileRef> photograph_at(const std::string& path, Temporary& temporary) {
  RealFileSystem files;
  const Limits limits;
  const auto bytes = files.read_file(path, limits.max_file_bytes);
  if (!bytes) return bytes.error();
  FileRef file;
  file.path = path;
  file.size = bytes->size();
  if (const auto sniffed = decode::sniff(*bytes, path)) {
    file.kind = sniffed->kind;
    file.format = sniffed->format;
    return file;
  }
  if (Status s = as_jpeg(cv::imread(path, cv::IMREAD_COLOR), path, temporary); !s) return s.error();
  return jpeg_at(temporary);
}

Result<Looked> looked(const FileRef& file, const std::string& path, const LookOptions& options) {
  const Limits limits;
  auto capture = decode::read_capture(file, limits);
  if (!capture) capture = Capture{};  // its picture may be whole
  if (options.focus) capture->af = options.focus;
  const auto planes = decode::decode_planes(file, capture->orientation, limits);
  if (!planes) return Error{planes.error().cause, path, planes.error().text};
  if (!planes->damage.empty()) return Error{Cause::corrupt, path, planes->damage};
  const cv::Mat eighth = decode::eighth_colour(*planes);
  const cv::Mat energy =
      subject::energy_map(image::upright(image::activity_map(planes->luma), planes->orientation));
  const subject::Glance now = subject::glance_at(eighth);
  subject::DetectorPool* const detectors = options.detectors;
  std::vector<subject::Detection> detections;
  if (detectors) {
    auto found = subject::search_frame(*detectors, subject::search_input(*planes, eighth, energy, &*capture));
    if (!found) return Error{found.error().cause, path, found.error().text};
    detections = std::move(*found);
  }
  const subject::FinderInput seen{&eighth, &energy, &*capture,
                                  &now,    nullptr, detectors ? &detections : nullptr};
  Looked out{planes->upright_width(), planes->upright_height(), {}, {}};
  struct Named {
    const char* source;
    subject::Finder find;
  };
  for (const auto& [source, find] :
       {Named{"AF area", subject::find_by_af_area}, Named{"focus energy", subject::find_by_focus_energy},
        Named{subject::kDetectorSource, subject::find_by_detector}}) {
    if (find == subject::find_by_detector && !detectors) continue;
    std::vector<Subject> boxes;
    find(seen, boxes);
    out.answers.push_back({source, std::move(boxes)});
  }
  out.answers.push_back({kFused, subject::find_subjects(seen)});
  if (options.view > 0) out.view = decode::picture_of_part(*planes, {}, {0, 0, 1, 1}, options.view);
  return out;
}

}  // namespace

Result<Looked> look_at(const std::string& path, const LookOptions& options) {
  try {
    Temporary temporary;
    const auto file = photograph_at(path, temporary);
    if (!file) return file.error();
    return looked(*file, path, options);
  } catch (const std::exception& e) {
    return Error{Cause::corrupt, path, e.what()};
  }
}

Result<Looked> look_at(const cv::Mat& bgr, const std::string& name, const LookOptions& options) {
  try {
    Temporary temporary;
    if (Status s = as_jpeg(bgr, name, temporary); !s) return s.error();
    return looked(jpeg_at(temporary), name, options);
  } catch (const std::exception& e) {
    return Error{Cause::corrupt, name, e.what()};
  }
}

}  // namespace burstsieve::subject_check
