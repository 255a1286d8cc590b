// The stages one frame passes through between file and facts. The flow calls them; so does the bench, on one
// thread.
#pragma once
#include <cstddef>
#include <memory>
#include <string>
#include <vector>

#include "burstsieve/base/limits.h"
#include "burstsieve/model/frame.h"
#include "burstsieve/model/measure.h"

namespace burstsieve::subject {
struct Glance;
struct Detection;
struct HeadEvidence;
class DetectorPool;
}  // namespace burstsieve::subject

namespace burstsieve::pipeline {

// What a frame leaves behind for the next one of its burst. A new one for every burst.
struct Trail {
  std::shared_ptr<const subject::Glance> last;
  std::shared_ptr<const std::vector<subject::Detection>> animals;  // where they were in `last`; may be null
};

// What a frame is to the detector, by its place in the burst alone: the answer must not depend on what is
// ready first. `place`: 0 for the first.
enum class Look {
  thorough,  // searched, down to parts of the frame when nothing is seen
  key,       // searched
  between    // the animals of the frame before are followed; searched only when they are lost
};
Look look_of(std::size_t place);

// How a failure is to be taken.
struct Trouble {
  bool passing = false, starved = false;
};

// Pixels on their way; opaque, so that nobody keeps them.
class FrameWork {
 public:
  // Stage 1: the one decode, the small pictures cut from it, and what the detector sees in them (no detector:
  // nothing). Never fails: damage and errors go into the facts.
  static std::unique_ptr<FrameWork> decoded(const Frame& frame, const Limits& limits,
                                            subject::DetectorPool* detectors = nullptr,
                                            Look look = Look::thorough);
  // The same for a frame in which nothing was seen while its neighbours show an animal: looked for about
  // `place`.
  static std::unique_ptr<FrameWork> decoded_about(const Frame& frame, const Limits& limits,
                                                  subject::DetectorPool& detectors, const Region& place);
  // For a frame that must not be opened: its facts say why. passing: passing_failure().
  static std::unique_ptr<FrameWork> passed_over(const std::string& why, bool passing);
  ~FrameWork();
  FrameWork(const FrameWork&) = delete;
  FrameWork& operator=(const FrameWork&) = delete;

  // Stage 2, in order inside a burst: lets this frame see the one before it, and follows the animals. Some
  // ms; 20 where the detector must look again.
  void follow(Trail& trail);
  // Stage 3: a search for animals that were lost, subject, measures, pose picture, thumbnail. Gives back the
  // facts and lets go of the pixels.
  FrameFacts measured(const Frame& frame);
  // What measured() saw of the first subject's head, for the other frames of the burst.
  const subject::HeadEvidence& head() const { return *head_; }
  // True when what went wrong may go right next time (a card pulled, memory or time run out): such facts are
  // reported, and must not be remembered.
  bool passing_failure() const { return trouble_.passing; }
  // True when memory ran out: it may go right with nothing else in flight beside it.
  bool starved() const { return trouble_.starved; }

 private:
  struct State;
  FrameWork();
  static std::unique_ptr<FrameWork> opened(const Frame& frame, const Limits& limits);
  std::unique_ptr<State> state_;
  std::unique_ptr<subject::HeadEvidence> head_;
  Trouble trouble_;
};

// Stage 5 for one contender: reads the raw mosaic under the subject and replaces what it measures better. A
// raw whose mosaic can't be read keeps the measures from its preview and gets a note.
struct Highlights {
  bool read = false;  // a mosaic was read
  Trouble trouble;
};
Highlights measure_highlights(const Frame& frame, FrameFacts& facts, const Limits& limits);
// For a raw that must not be opened: the note says why.
void pass_over_highlights(const Frame& frame, FrameFacts& facts, const std::string& why);

}  // namespace burstsieve::pipeline
