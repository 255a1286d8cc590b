#include "count.h"

#include <cmath>
#include <map>

#include "fit.h"

namespace burstsieve::heads {

std::vector<Judged> judge(const std::vector<Sample>& samples, bool true_mask) {
  std::vector<Judged> out;
  std::map<int, std::vector<std::size_t>> bursts;
  for (const Sample& s : samples) {
    Judged j{&s, subject::find_head(input_of(s, true_mask)), {}};
    if (!j.alone.evidence.places.empty()) {
      const Region& h = j.alone.evidence.places.front().head;
      const double x = (h.centre_x() - s.crop.x) / s.crop.w * s.bgr.cols,
                   y = (h.centre_y() - s.crop.y) / s.crop.h * s.bgr.rows;
      j.right = std::hypot(x - s.head.x, y - s.head.y) <= s.radius;
    }
    bursts[s.burst].push_back(out.size());
    out.push_back(std::move(j));
  }
  for (const auto& [number, frames] : bursts) {
    if (number < 0) {
      for (const std::size_t i : frames)
        out[i].in_burst = subject::agree_on_heads({out[i].alone.evidence})[0];
      continue;
    }
    std::vector<subject::HeadEvidence> all;
    for (const std::size_t i : frames) all.push_back(out[i].alone.evidence);
    const auto judged = subject::agree_on_heads(all);
    for (std::size_t k = 0; k < frames.size(); ++k) out[frames[k]].in_burst = judged[k];
  }
  return out;
}

std::vector<std::pair<std::string, Tally>> tally(const std::vector<Judged>& judged, bool in_burst,
                                                 const std::function<std::string(const Sample&)>& key) {
  std::map<std::string, Tally> out;
  for (const Judged& j : judged) {
    const std::string k = key(*j.sample);
    if (k.empty()) continue;
    const HeadView view = in_burst ? j.in_burst.view : j.alone.view;
    for (const std::string& name : {k, std::string("all")}) {
      Tally& t = out[name];
      if (j.sample->shown == Shown::hidden) {
        ++t.hidden;
        t.hidden_known += view == HeadView::hidden;
        t.hidden_seen += view == HeadView::visible;
        continue;
      }
      ++t.frames;
      t.first += j.right;
      t.lost += view == HeadView::hidden;
      if (view == HeadView::visible) ++(j.right ? t.right : t.wrong);
    }
  }
  return {out.begin(), out.end()};
}

}  // namespace burstsieve::heads
