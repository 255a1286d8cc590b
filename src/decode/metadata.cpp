#include "burstsieve/decode/metadata.h"

#include <algorithm>
#include <cerrno>
#include <cstdio>
#include <cstring>
#include <memory>
#include <system_error>

#include "burstsieve/base/bytes.h"
#include "burstsieve/base/text.h"
#include "burstsieve/camera/af_box.h"
#include "burstsieve/camera/exif_af.h"
#include "burstsieve/camera/maker.h"
#include "burstsieve/decode/exif_fields.h"
#include "burstsieve/decode/exif_tags.h"
#include "burstsieve/decode/raw_header.h"

namespace burstsieve::decode {
namespace {

struct Close {
  void operator()(std::FILE* f) const { std::fclose(f); }
};

struct Head {
  ByteBuffer bytes;
  std::uint64_t file_size = 0;
  bool whole() const { return bytes.size() == file_size; }
};

Error io_error(const std::string& path, int code) {
  return Error{Cause::io, path, std::generic_category().message(code)};
}

Result<Head> read_head(const std::string& path, std::size_t count, const Limits& limits) {
  const std::unique_ptr<std::FILE, Close> file(std::fopen(path.c_str(), "rbe"));
  if (!file) return io_error(path, errno);
  if (fseeko(file.get(), 0, SEEK_END) != 0) return io_error(path, errno);
  const off_t size = ftello(file.get());
  if (size < 0 || fseeko(file.get(), 0, SEEK_SET) != 0) return io_error(path, errno);
  Head head;
  head.file_size = static_cast<std::uint64_t>(size);
  if (head.file_size > limits.max_file_bytes)
    return Error{
        Cause::limit, path,
        "larger than " + std::to_string(limits.max_file_bytes >> 20) + " MiB, the limit for one file"};
  head.bytes.resize(static_cast<std::size_t>(std::min<std::uint64_t>(count, head.file_size)));
  const std::size_t got = std::fread(head.bytes.data(), 1, head.bytes.size(), file.get());
  if (got < head.bytes.size() && std::ferror(file.get())) return io_error(path, EIO);
  head.bytes.resize(got);
  return head;
}

// True when the head alone may have lost something the whole file has.
bool head_not_enough(const LoadedTags& t) {
  return !t.failure.empty() || t.complaints.count > 0 || t.count == 0 || (t.jpeg && t.pixels.width == 0);
}

LoadedTags load(const std::string& path, const Head& head) {
  LoadedTags from_head = load_tags(head.bytes);
  if (head.whole() || !head_not_enough(from_head)) return from_head;
  LoadedTags from_file = load_tags(path);
  // A file that breaks off later than the head may give less when read whole.
  return from_file.count >= from_head.count ? std::move(from_file) : std::move(from_head);
}

void read_maker(const camera::TagView& tags, Capture& c) {
  const std::string make = lower_ascii(c.make);
  for (const camera::Maker* maker : camera::makers())
    if (maker->matches(make)) {
      maker->read(tags, c);
      return;
    }
}

void note_damage(const LoadedTags& t, Capture& c) {
  if (!t.failure.empty())
    c.notes.push_back("metadata incomplete: " + t.failure);
  else if (!t.complaints.first_error.empty())
    c.notes.push_back("metadata damaged: " + t.complaints.first_error);
}

}  // namespace

Result<Capture> read_capture_at(const std::string& path, bool raw, const Limits& limits,
                                std::size_t head_bytes) {
  const auto head = read_head(path, head_bytes, limits);
  if (!head) return head.error();
  try {
    const LoadedTags t = load(path, *head);
    Capture c;
    note_damage(t, c);
    read_exif_fields(*t.tags, t.jpeg ? t.pixels : StoredSize{}, c);
    if (!t.jpeg && c.width == 0) set_sensor_size(c, t.pixels.width, t.pixels.height);
    if (raw && (c.make.empty() || c.width == 0 || !c.time_ms || t.preview_only))
      fill_from_raw_header(path, c, t.preview_only);
    read_maker(*t.tags, c);
    if (!c.af) camera::read_exif_af(*t.tags, c);
    camera::set_text(c.serial, *t.tags, "Image.CameraSerialNumber");
    if (c.lens.empty()) c.lens = lens_by_numbers(*t.tags);
    return c;
  } catch (const std::exception& e) {  // out of memory; everything else is caught at the libraries' doors
    return Error{Cause::limit, path, one_line(e.what())};
  }
}

Result<Capture> read_capture(const FileRef& file, const Limits& limits) {
  return read_capture_at(file.path, file.kind == FileKind::raw, limits);
}

}  // namespace burstsieve::decode
