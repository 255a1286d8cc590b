#include "burstsieve/pipeline/frame_work.h"

#include <algorithm>
#include <exception>
#include <optional>
#include <stdexcept>
#include <utility>
#include <vector>

#include "burstsieve/base/text.h"
#include "burstsieve/decode/mosaic.h"
#include "burstsieve/decode/pixels.h"
#include "burstsieve/group/pose.h"
#include "burstsieve/image/activity.h"
#include "burstsieve/image/orientation.h"
#include "burstsieve/measure/focus_map.h"
#include "burstsieve/measure/instrument.h"
#include "burstsieve/measure/subjects.h"
#include "burstsieve/subject/cut_out.h"
#include "burstsieve/subject/detector.h"
#include "burstsieve/subject/energy_map.h"
#include "burstsieve/subject/finder.h"
#include "burstsieve/subject/head.h"
#include "burstsieve/subject/search.h"

namespace burstsieve::pipeline {

struct FrameWork::State {
  FrameFacts facts;
  decode::Planes planes;
  decltype(decode::Planes::luma) eighth, activity, energy;
  std::shared_ptr<const subject::Glance> glance, previous;
  subject::DetectorPool* detectors = nullptr;                 // null: none at work
  std::optional<std::vector<subject::Detection>> detections;  // nothing: not looked for yet
};

namespace {

// How many sensor pixels one pixel of a pair's JPEG stands for: cameras can write a small JPEG beside the
// raw.
double reduction_of(const Capture& raw, const decode::Planes& planes) {
  const int full = std::max(raw.width, raw.height),
            have = std::max(planes.upright_width(), planes.upright_height());
  if (full <= 0 || have <= 0) return 1;
  const double ratio = static_cast<double>(full) / have;
  return ratio > 1.03 && ratio <= 16 ? ratio : 1;  // a few border pixels are no reduction
}

// The JPEG of a pair is decoded rather than the raw's preview: whole cameras' previews are smaller, hardly
// one JPEG is.
const FileRef& pixels_of(const Frame& frame) {
  return frame.jpeg ? *frame.jpeg : *frame.raw;
}

// What a library threw becomes this frame's damage: one bad file is one bad line.
template <class Work>
void guarded(FrameFacts& facts, Trouble& trouble, Work work) {
  try {
    work();
  } catch (const std::exception& e) {
    trouble = {true, true};
    facts.damage = std::string("could not be measured (") + one_line(e.what()) + ")";
  }
}

std::string judged_from(const FrameFacts& facts, const std::string& why) {
  return "highlights judged from the " + facts.pixel_source + ": " + why;
}

Trouble trouble_of(Cause cause) {
  const bool starved = cause == Cause::memory;
  return {starved || cause == Cause::io || cause == Cause::limit || cause == Cause::truncated, starved};
}

// Throws when the detector fails: facts without its word would pass for facts with it.
std::vector<subject::Detection> or_throw(Result<std::vector<subject::Detection>> found) {
  if (!found) throw std::runtime_error(found.error().text);
  return std::move(*found);
}

// Every frame is searched, and followed only where the search sees nothing: a beating wing needs its box
// drawn anew. On season 7001 first subjects overlapped the truth by half in 675 of 719 frames so, in 640 with
// a search in every eighth and crops along the track between, for a tenth less time of the whole run. Parts
// of the frame are searched in every sixteenth, since that costs 2.5 decodes.
constexpr std::size_t kKeyEvery = 1, kThoroughEvery = 16;
constexpr int kCropsWhenLost = 2;

}  // namespace

FrameWork::FrameWork()
    : state_(std::make_unique<State>()), head_(std::make_unique<subject::HeadEvidence>()) {}
FrameWork::~FrameWork() = default;

std::unique_ptr<FrameWork> FrameWork::passed_over(const std::string& why, bool passing) {
  std::unique_ptr<FrameWork> work(new FrameWork);
  work->state_->facts.damage = why;
  work->trouble_.passing = passing;
  return work;
}

Look look_of(std::size_t place) {
  if (place % kThoroughEvery == 0) return Look::thorough;
  return place % kKeyEvery == 0 ? Look::key : Look::between;
}

std::unique_ptr<FrameWork> FrameWork::opened(const Frame& frame, const Limits& limits) {
  std::unique_ptr<FrameWork> work(new FrameWork);
  State& s = *work->state_;
  guarded(s.facts, work->trouble_, [&] {
    const int orientation = frame.jpeg ? frame.jpeg_orientation : frame.capture.orientation;
    auto planes = decode::decode_planes(pixels_of(frame), orientation, limits);
    if (!planes) {
      s.facts.damage = planes.error().text;
      work->trouble_ = trouble_of(planes.error().cause);
      return;
    }
    s.planes = std::move(*planes);
    if (frame.raw && frame.jpeg) s.planes.full_per_pixel = reduction_of(frame.capture, s.planes);
    s.facts.decoded = true;
    s.facts.damage = s.planes.damage;
    s.facts.pixel_width = s.planes.upright_width();
    s.facts.pixel_height = s.planes.upright_height();
    s.facts.pixel_source = s.planes.source;
    s.eighth = decode::eighth_colour(s.planes);
    s.activity = image::activity_map(s.planes.luma);
    s.glance = std::make_shared<subject::Glance>(subject::glance_at(s.eighth));
    s.energy = subject::energy_map(image::upright(s.activity, s.planes.orientation));
  });
  return work;
}

std::unique_ptr<FrameWork> FrameWork::decoded(const Frame& frame, const Limits& limits,
                                              subject::DetectorPool* detectors, Look look) {
  auto work = opened(frame, limits);
  State& s = *work->state_;
  s.detectors = detectors;
  if (detectors == nullptr || look == Look::between || !s.facts.decoded || !s.facts.damage.empty())
    return work;
  guarded(s.facts, work->trouble_, [&] {
    subject::SearchOptions options;
    options.tiles = look == Look::thorough;
    s.detections = or_throw(subject::search_frame(
        *detectors, subject::search_input(s.planes, s.eighth, s.energy, &frame.capture), options));
  });
  return work;
}

std::unique_ptr<FrameWork> FrameWork::decoded_about(const Frame& frame, const Limits& limits,
                                                    subject::DetectorPool& detectors, const Region& place) {
  auto work = opened(frame, limits);
  State& s = *work->state_;
  if (!s.facts.decoded || !s.facts.damage.empty()) return work;
  guarded(s.facts, work->trouble_, [&] {
    s.detections = or_throw(
        subject::search_near(detectors, subject::search_input(s.planes, s.eighth, s.energy, nullptr), place));
  });
  return work;
}

void FrameWork::follow(Trail& trail) {
  State& s = *state_;
  s.previous = trail.last;
  // A damaged picture moves where its damage begins: it says nothing about the bird.
  if (!s.facts.decoded || !s.facts.damage.empty()) return;
  guarded(s.facts, trouble_, [&] {
    const bool seen = s.detections && !s.detections->empty();
    if (s.detectors && !seen && trail.last && trail.animals) {
      auto followed = or_throw(
          subject::follow_animals(*s.detectors, subject::search_input(s.planes, s.eighth, s.energy, nullptr),
                                  *trail.animals, *trail.last, *s.glance));
      // Lost ones stay on the trail where they were: they may be seen there again in the next frame.
      if (!followed.empty()) s.detections = std::move(followed);
    } else if (s.detectors && !s.detections && !trail.animals) {
      s.detections.emplace();  // the key frame saw nothing: there is nothing to follow
    }
    if (s.detections && !s.detections->empty())
      trail.animals = std::make_shared<const std::vector<subject::Detection>>(*s.detections);
  });
  trail.last = s.glance;
}

FrameFacts FrameWork::measured(const Frame& frame) {
  State& s = *state_;
  if (!s.facts.decoded) return std::move(s.facts);
  guarded(s.facts, trouble_, [&] {
    const auto thumbnail = decode::thumbnail(s.planes, s.eighth);
    s.facts.thumbnail.assign(thumbnail.begin(), thumbnail.end());
    if (!s.facts.damage.empty()) return;  // never scored: half a frame can look sharp
    const auto& energy = s.energy;
    if (s.detectors && !s.detections) {  // lost
      subject::SearchOptions options;
      options.crops = kCropsWhenLost;
      options.tiles = false;
      s.detections = or_throw(subject::search_frame(
          *s.detectors, subject::search_input(s.planes, s.eighth, s.energy, &frame.capture), options));
    }
    const subject::FinderInput seen{&s.eighth,        &energy,
                                    &frame.capture,   s.glance.get(),
                                    s.previous.get(), s.detections ? &*s.detections : nullptr};
    s.facts.subjects = subject::find_subjects(seen);
    if (s.facts.subjects.empty()) {
      s.facts.notes.push_back("no subject stands out");
      return;
    }
    const auto focus = measure::upright(measure::focus_map(s.planes.luma, s.activity), s.planes.orientation);
    const measure::Picture picture{s.planes, s.activity, frame.capture, focus};
    // Asked for by the head's finder and by the measures.
    std::vector<std::pair<Region, CellMask>> outlines;
    const auto outline = [&](const Subject& one) {
      for (const auto& [box, mask] : outlines)
        if (box == one.box) return mask;
      outlines.emplace_back(one.box, subject::outline_of(s.planes, s.eighth, s.activity, energy, one.box));
      return outlines.back().second;
    };
    *head_ = subject::look_for_heads(s.planes, frame.capture, outline, s.facts.subjects);
    const auto input = measure::measure_subjects(picture, s.facts.subjects, outline);
    const Subject& animal = s.facts.subjects.front();
    s.facts.mask = input.mask;
    s.facts.measures = measure::measure_pixels(input);
    s.facts.pose = group::describe_pose(s.planes, s.eighth, animal.box, s.facts.mask);
  });
  FrameFacts out = std::move(s.facts);
  *state_ = {};  // pixels die here, inside the task that decoded them
  return out;
}

Highlights measure_highlights(const Frame& frame, FrameFacts& facts, const Limits& limits) {
  Highlights out;
  if (!frame.raw || facts.subjects.empty() || !facts.damage.empty()) return out;
  FrameFacts trial = facts;
  guarded(trial, out.trouble, [&] {
    const auto sensor =
        decode::read_sensor(*frame.raw, facts.subjects.front().box, frame.capture.orientation, limits);
    if (!sensor) {
      out.trouble = trouble_of(sensor.error().cause);
      trial.notes.push_back(judged_from(facts, sensor.error().text));
      return;
    }
    const bool whole = !sensor->overview.values.empty();
    measure::measure_mosaic(
        {&sensor->region, facts.subjects.front(), facts.mask, whole ? &sensor->overview : nullptr},
        trial.measures);
    out.read = true;
  });
  if (trial.damage != facts.damage) {  // the raw threw: the frame's picture is still what it was
    facts.notes.push_back(judged_from(facts, "raw data unreadable"));
    out.read = false;
    return out;
  }
  facts = std::move(trial);
  return out;
}

void pass_over_highlights(const Frame& frame, FrameFacts& facts, const std::string& why) {
  if (frame.raw && !facts.subjects.empty() && facts.damage.empty())
    facts.notes.push_back(judged_from(facts, why));
}

}  // namespace burstsieve::pipeline
