#include "burstsieve/subject/search.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <optional>
#include <utility>

#include "burstsieve/subject/energy_map.h"
#include "burstsieve/subject/track.h"

namespace burstsieve::subject {
namespace {

// Scores tuned on composites of seeds below 5000 and on the pictures without an animal of
// tests/subject/data/photographs.txt; docs/subject.md has the figures of held-out seeds.
constexpr double kFaint = .08;      // a place to look closer
constexpr double kSureBird = .6;    // believed at first sight
constexpr double kSureOther = .75;  // bark passes for a giraffe with .58
// A bird is believed on a closer look from this score on, or where both looks together give as much. Of 24
// windows without an animal the worst had .49 and .75; the nuthatch on its bark has .46 and .81.
constexpr double kCloser = .5, kBothLooks = .78;
constexpr double kCloserDetail = .45;  // where detail stands out: a witness of its own
constexpr double kCloserFocus = .25;   // where the camera focused: the photographer's word
constexpr double kCloserAgain = .33;   // where it was in the frame before
// Other kinds: grass passes for a sheep with .61 at close sight, with .76 by both looks; of dogs, horses, a
// cat and a bear the least had 1.0 by both.
constexpr double kCloserOther = .65, kBothLooksOther = .9;
constexpr double kTileSeen = .15;   // in a tile: a place to look closer, no more
constexpr double kKept = .35;       // at first sight, when the camera focused in it
constexpr double kSamePlace = .35;  // overlap of what is seen at first and on the closer look
// A wing beat changes the area of the box by up to a factor of three; its head alone has a tenth of it.
constexpr double kMostChange = 3.5, kStillThere = .5;
constexpr int kMostFaint = 3, kMostEnergy = 2, kMostTiles = 4;
// Side of a crop by the longer side of what is looked for. A bird of known outline fills two thirds of it: of
// composites of a twentieth of the frame's width .93 were seen so, .70 at a quarter (40 of each).
constexpr double kAround = 1.5, kAroundUnknown = 2.4, kAroundLast = 2.2;
constexpr double kLeastBox = .04;  // of the frame's width: what a place counts for at least

// Widths of birds about a focus area, of the frame's, as they are tried.
// The widest first: close up, a
// head passes for a bird.
constexpr std::array kFocusWidths{.26, .13, .055};

enum class Reason { seen, focus, detail };

struct Place {
  Region box;
  Reason reason = Reason::seen;
  double score = 0;
  int category = 0;
};

// A square (in pixels) about the box's middle, moved into the frame.
Region square_about(const Region& box, double factor, double aspect) {
  const double longest = std::max({box.w, box.h / aspect, kLeastBox}) * factor;  // of the frame's width
  const double w = std::min(longest, 1.0), h = std::min(longest * aspect, 1.0);
  const double x = std::clamp(box.centre_x() - w / 2, 0.0, 1 - w);
  const double y = std::clamp(box.centre_y() - h / 2, 0.0, 1 - h);
  return {x, y, w, h};
}

Region in_frame(const Region& box, const Region& part) {
  return clamped({part.x + box.x * part.w, part.y + box.y * part.h, box.w * part.w, box.h * part.h});
}

// Sides of the part at which the box ends: it may go on outside. The frame's own edge cuts for good.
int sides_cut(const Region& part, const Region& box) {
  constexpr double kRim = .01;
  const auto at = [&](double edge, double end, double frame_end) {
    return std::abs(edge - end) < kRim * part.w && std::abs(end - frame_end) > 1e-9;
  };
  return at(box.x, part.x, 0) + at(box.right(), part.right(), 1) + at(box.y, part.y, 0) +
         at(box.bottom(), part.bottom(), 1);
}

// Its outline is not known from here.
bool cut_by(const Region& part, const Region& box) {
  return sides_cut(part, box) >= 2;
}

// The same animal a moment later, by place and size.
bool could_be(const Region& now, const Region& before) {
  const double change = now.area() / std::max(1e-9, before.area());
  const Region& smaller = change < 1 ? now : before;
  const Region& larger = change < 1 ? before : now;
  return change < kMostChange && change > 1 / kMostChange && share_inside(smaller, larger) >= kStillThere;
}

class Search {
 public:
  Search(DetectorPool& pool, const SearchInput& input, SearchEffort& effort)
      : pool_(pool), input_(input), effort_(effort) {}

  Result<std::vector<Detection>> run(const SearchOptions& options) {
    ++effort_.whole;
    auto first = pool_.detect(input_.whole, {kDetectorSide, kFaint});
    if (!first) return first.error();
    const auto sure = [](const Detection& d) {
      return d.confidence >= (d.category == kBirdCategory ? kSureBird : kSureOther);
    };
    std::vector<Place> places;
    for (const Detection& d : *first)
      if (sure(d))
        found_.push_back(d);
      else if (std::ssize(places) < kMostFaint)
        places.push_back({d.box, Reason::seen, d.confidence, d.category});
    add_other_places(places);
    for (const Place& p : places) {
      if (effort_.crops >= options.crops) break;
      const bool done = p.reason == Reason::focus ? known_at(p.box) : known(p.box);
      if (!done)
        if (auto s = look_at(p); !s) return s.error();
    }
    if (found_.empty() && options.tiles)
      if (auto s = look_at_tiles(); !s) return s.error();
    return without_doubles(std::move(found_));
  }

  // The best of what is seen about `box`, `factor` times as wide.
  Result<std::vector<Detection>> around(const Region& box, double factor, double threshold) {
    ++effort_.crops;
    const Region part = square_about(box, factor, input_.aspect);
    const cv::Mat picture = input_.part(part, kCropSide);
    auto seen = pool_.detect(picture, {kCropSide, threshold});
    if (!seen) return seen.error();
    std::vector<Detection> out;
    for (Detection d : *seen) {
      d.box = in_frame(d.box, part);
      d.sight = Sight::closer;
      if (!cut_by(part, d.box)) out.push_back(d);
    }
    return out;
  }

 private:
  void add_other_places(std::vector<Place>& places) const {
    // First of all: nobody knows better where the bird is. How large it is nobody says.
    if (input_.capture && input_.capture->af && !known_at(input_.capture->af->box)) {
      const Region& af = input_.capture->af->box;
      std::vector<Place> focus;
      for (const double width : kFocusWidths) {
        const double height = width * input_.aspect;
        const Region box{af.centre_x() - width / 2, af.centre_y() - height / 2, width, height};
        focus.push_back({box, Reason::focus});
      }
      // An animal that is seen there at first sight, if only faintly, has an outline; a focus area has none.
      const auto others = std::stable_partition(places.begin(), places.end(),
                                                [&](const Place& p) { return focused_in(p.box); });
      places.insert(others, focus.begin(), focus.end());
    }
    if (!found_.empty() || !input_.energy || input_.energy->empty()) return;
    int taken = 0;
    for (const Blob& blob : blobs(*input_.energy, .4)) {
      const auto drawn = stable_box(*input_.energy, blob.peak.x, blob.peak.y);
      if (drawn.box.empty() || drawn.box.w > .4) continue;
      places.push_back({drawn.box, Reason::detail});
      if (++taken == kMostEnergy) break;
    }
  }

  bool known_at(const Region& af) const {
    return std::any_of(found_.begin(), found_.end(), [&](const Detection& d) {
      return share_inside({af.centre_x(), af.centre_y(), 1e-6, 1e-6}, d.box) > .5;
    });
  }

  bool known(const Region& box) const {
    return std::any_of(found_.begin(), found_.end(), [&](const Detection& d) {
      return overlap(d.box, box) >= kSamePlace || share_inside(box, d.box) > .7;
    });
  }

  static bool believed(const Detection& d, const Place& p) {
    if (d.category != kBirdCategory && !(p.reason == Reason::seen && p.category == kBirdCategory))
      return d.confidence >= (p.reason == Reason::focus ? kCloser : kCloserOther) ||
             (p.reason == Reason::seen && d.confidence + p.score >= kBothLooksOther);
    switch (p.reason) {
      case Reason::seen:
        return d.confidence >= kCloser || d.confidence + p.score >= kBothLooks;
      case Reason::focus:
        return d.confidence >= kCloserFocus;
      case Reason::detail:
        return d.confidence >= kCloserDetail;
    }
    return false;
  }

  Status look_at(const Place& p) {
    const bool seen = p.reason == Reason::seen;
    auto closer = around(p.box, seen ? kAround : kAroundUnknown, kFaint);
    if (!closer) return closer.error();
    bool confirmed = false;
    std::optional<Detection> hint;
    for (Detection d : *closer) {
      if (seen && overlap(d.box, p.box) < kSamePlace) continue;
      if (believed(d, p)) {
        // Either look may know the kind better.
        if (seen && p.category == kBirdCategory) d.category = kBirdCategory;
        d.confidence = std::max(d.confidence, p.score);
        found_.push_back(d);
        confirmed = true;
      } else if (!hint && !seen) {
        hint = d;
      }
    }
    if (!confirmed && hint) return confirm(*hint, p.reason);
    if (!confirmed && seen && p.score >= kKept && focused_in(p.box))
      found_.push_back({p.box, p.score, p.category, Sight::whole});
    return Done{};
  }

  // What was seen small in a part is looked at once more, so that it fills the crop.
  Status confirm(const Detection& hint, Reason reason) {
    auto closer = around(hint.box, kAround, kFaint);
    if (!closer) return closer.error();
    const Place place{hint.box, reason, reason == Reason::seen ? 0 : hint.confidence, hint.category};
    for (const Detection& d : *closer)
      if (overlap(d.box, hint.box) >= kSamePlace && believed(d, place)) {
        found_.push_back(d);
        break;
      }
    return Done{};
  }

  bool focused_in(const Region& box) const {
    if (!input_.capture || !input_.capture->af) return false;
    const Region& af = input_.capture->af->box;
    return af.centre_x() >= box.x && af.centre_x() <= box.right() && af.centre_y() >= box.y &&
           af.centre_y() <= box.bottom();
  }

  // Three by two parts that overlap by a fifth.
  Status look_at_tiles() {
    constexpr double kWide = .4, kHigh = .56;
    std::vector<Detection> hints;
    for (int row = 0; row < 2; ++row)
      for (int col = 0; col < 3; ++col) {
        const Region part{col * (1 - kWide) / 2, row * (1 - kHigh), kWide, kHigh};
        ++effort_.tiles;
        auto seen = pool_.detect(input_.part(part, kDetectorSide), {kDetectorSide, kTileSeen});
        if (!seen) return seen.error();
        for (Detection d : *seen) {
          d.box = in_frame(d.box, part);
          if (!cut_by(part, d.box)) hints.push_back(d);
        }
      }
    hints = without_doubles(std::move(hints));
    int asked = 0;
    for (const Detection& h : hints)
      if (asked++ < kMostTiles)
        if (auto s = confirm(h, Reason::seen); !s) return s.error();
    return Done{};
  }

  DetectorPool& pool_;
  const SearchInput& input_;
  SearchEffort& effort_;
  std::vector<Detection> found_;
};

}  // namespace

SearchInput search_input(const decode::Planes& planes, const cv::Mat& eighth, const cv::Mat& energy,
                         const Capture* capture) {
  SearchInput out;
  out.whole = decode::picture_of(planes, eighth, kDetectorSide);
  out.part = [&](const Region& region, int side) {
    return decode::picture_of_part(planes, eighth, region, side);
  };
  out.aspect = static_cast<double>(planes.upright_width()) / planes.upright_height();
  out.capture = capture;
  out.energy = &energy;
  return out;
}

Result<std::vector<Detection>> search_frame(DetectorPool& pool, const SearchInput& input,
                                            const SearchOptions& options, SearchEffort* effort) {
  SearchEffort ignored;
  return Search(pool, input, effort ? *effort : ignored).run(options);
}

Result<std::vector<Detection>> search_near(DetectorPool& pool, const SearchInput& input, const Region& box) {
  SearchEffort ignored;
  auto seen = Search(pool, input, ignored).around(box, kAroundLast, kCloserAgain);
  if (!seen) return seen;
  std::erase_if(*seen, [&](const Detection& d) { return !could_be(d.box, box); });
  const auto best = std::max_element(seen->begin(), seen->end(), [&](const Detection& a, const Detection& b) {
    return overlap(a.box, box) < overlap(b.box, box);
  });
  if (best == seen->end()) return seen;
  return std::vector<Detection>{*best};
}

Result<std::vector<Detection>> follow_animals(DetectorPool& pool, const SearchInput& input,
                                              const std::vector<Detection>& animals, const Glance& before,
                                              const Glance& now) {
  constexpr std::size_t kMostFollowed = 3;
  std::vector<Detection> out;
  for (std::size_t i = 0; i < std::min(animals.size(), kMostFollowed); ++i) {
    const Detection& was = animals[i];
    const Tracked t = follow_animal(before, was.box, now, input.energy ? *input.energy : cv::Mat());
    // Links of a chain: what each of them leaves open adds up.
    const double track = t.confidence * (was.sight == Sight::followed ? was.track : 1);
    if (i == 0) {
      // The track says where; the box of a beating wing must be drawn anew.
      auto seen = search_near(pool, input, t.confidence > 0 ? t.box : was.box);
      if (!seen) return seen.error();
      if (!seen->empty()) {
        if (was.category == kBirdCategory) seen->front().category = kBirdCategory;
        out.push_back(seen->front());
        continue;
      }
    }
    if (track >= kTrackTrusted) out.push_back({t.box, was.confidence, was.category, Sight::followed, track});
  }
  return out;
}

}  // namespace burstsieve::subject
