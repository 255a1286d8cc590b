#include "render_desk.h"

#include <atomic>
#include <optional>
#include <utility>

#include "burstsieve/decode/pixels.h"

namespace burstsieve::pipeline {
namespace {

// The planes of a 24 MP frame take 50 MB, of a 45 MP one 90 MB: a pose group's best few side by side stay at
// hand, and the engine's memory limit (2 GiB and more) is far.
constexpr std::size_t kRecentBytes = 300u << 20;

std::size_t bytes_of(const decode::Planes& p) {
  std::size_t n = 0;
  for (const auto* m : {&p.luma, &p.cb, &p.cr, &p.luma8, &p.cb8, &p.cr8}) n += m->total();
  return 2 * n;  // rows and pooled blocks are padded, and the 1/8 picture comes on top
}

const FileRef& file_of(const RenderTask& t) {
  return t.frame.jpeg ? *t.frame.jpeg : *t.frame.raw;
}

int orientation_of(const RenderTask& t) {
  return t.frame.jpeg ? t.frame.jpeg_orientation : t.frame.capture.orientation;
}

}  // namespace

struct RenderDesk::Decoded {
  FileRef file;
  int orientation = 1;
  std::mutex mutex;  // held while decoding
  std::optional<Result<decode::Planes>> planes;
  decltype(decode::Planes::luma) eighth;
  std::atomic<std::size_t> bytes{0};
};

// The frame's place in the list, moved to the front; a new one when it is not there.
std::shared_ptr<RenderDesk::Decoded> RenderDesk::place_of(const RenderTask& task) {
  const std::lock_guard lock(mutex_);
  for (auto it = recent_.begin(); it != recent_.end(); ++it)
    if ((*it)->file == file_of(task) && (*it)->orientation == orientation_of(task)) {
      recent_.splice(recent_.begin(), recent_, it);
      return recent_.front();
    }
  auto fresh = std::make_shared<Decoded>();
  fresh->file = file_of(task);
  fresh->orientation = orientation_of(task);
  recent_.push_front(fresh);
  return fresh;
}

// Pictures in the making keep what they need; the list lets go of the oldest.
void RenderDesk::make_room() {
  const std::lock_guard lock(mutex_);
  std::size_t sum = 0;
  for (auto it = recent_.begin(); it != recent_.end();) {
    sum += (*it)->bytes;
    it = sum > kRecentBytes ? recent_.erase(it) : std::next(it);
  }
}

Result<Rendering> RenderDesk::render(const RenderTask& task) {
  const std::string& path = path_of(task);
  if (task.side < 1 || task.side > kMaxRenderSide || task.quality < 1 || task.quality > 100)
    return Error{Cause::unsupported, path, "a picture of that size can't be made"};
  const auto place = place_of(task);
  {
    const std::lock_guard lock(place->mutex);
    if (!place->planes) {
      auto planes = decode::decode_planes(place->file, place->orientation, limits_);
      if (planes) {
        place->eighth = decode::eighth_colour(*planes);
        place->bytes = bytes_of(*planes);
      }
      place->planes = std::move(planes);
    }
  }
  make_room();
  if (!*place->planes) {
    // It may go right next time: a card pulled, memory run out.
    const Error error = place->planes->error();
    const std::lock_guard lock(mutex_);
    recent_.remove(place);
    return error;
  }
  const decode::Planes& planes = **place->planes;
  auto out = decode::rendered(planes, place->eighth, task.region, task.side, task.quality);
  if (out.jpeg.empty()) return Error{Cause::unsupported, path, "nothing of the frame lies there"};
  return Rendering{std::move(out.jpeg),    out.width, out.height, out.region, planes.upright_width(),
                   planes.upright_height()};
}

}  // namespace burstsieve::pipeline
