// The engine: everything that opens photographs. It answers four questions, in this process
// (make_local_engine) or in one of its own that can write nothing and reach nobody (engine_process.h). The
// answers are the same.
#pragma once
#include <atomic>
#include <cstddef>
#include <cstdint>
#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "burstsieve/base/limits.h"
#include "burstsieve/base/result.h"
#include "burstsieve/model/frame.h"
#include "burstsieve/model/measure.h"

namespace burstsieve::subject {
class DetectorPool;
}

namespace burstsieve::pipeline {

// A file that may be a photograph.
struct Candidate {
  std::string path;
  std::uint64_t size = 0;     // bytes
  std::int64_t mtime_ns = 0;  // last change, nanoseconds since 1970
};

// What its content says. Nothing in `kind`: no photograph that we read.
struct Identity {
  std::optional<FileKind> kind;
  std::string format;             // as FileRef::format
  std::uint64_t fingerprint = 0;  // as FileRef::fingerprint
};

// Where in its path an item was.
enum class Step { identity, capture, picture, mosaic };
constexpr Step last_of(Step) {
  return Step::mosaic;
}

// What stopped the engine on an earlier try; the item is passed over from that step on.
struct Mishap {
  std::uint32_t item = 0;
  Step step = Step::identity;
  std::string text;      // for people
  bool passing = false;  // may go right next time (out of memory or time): not to be remembered
};

// A burst to measure.
struct BurstTask {
  std::vector<Frame> frames;
  std::vector<Mishap> mishaps;
  bool one_by_one = false;  // nothing else in flight beside each frame: slow, but it shows which one is to
                            // blame
};

struct BurstFacts {
  std::vector<FrameFacts> frames;
  std::size_t mosaics = 0;      // raw mosaics read
  bool passing = false;         // something may go right next time: report it, don't remember it
  std::vector<Mishap> starved;  // frames that ran out of memory: others in flight may have used it up
};

// A part of a frame to look at.
struct RenderTask {
  Frame frame;                // its JPEG is decoded, else the raw's embedded preview, else a simple rendering
  Region region{0, 0, 1, 1};  // of the upright frame
  int side = 1024;            // px of the longest side at most, 1..kMaxRenderSide; never enlarged
  int quality = 85;           // libjpeg's, 1..100
};
// A 4096 px square of pure noise makes a JPEG of about 17 MB.
inline constexpr int kMaxRenderSide = 4096;

struct Rendering {
  std::vector<std::uint8_t> jpeg;       // upright
  int width = 0, height = 0;            // of it, px
  Region region;                        // what it shows, to whole pixels
  int full_width = 0, full_height = 0;  // px of the decoded upright frame it was cut from
};

class Engine {
 public:
  Engine() = default;
  Engine(const Engine&) = delete;
  Engine& operator=(const Engine&) = delete;
  virtual ~Engine() = default;

  // One answer per file, in order. An Error is about that file alone. Not while bursts are out.
  virtual std::vector<Result<Identity>> identify(const std::vector<Candidate>& files) = 0;
  virtual std::vector<Result<Capture>> read_captures(const std::vector<FileRef>& files) = 0;

  // The same for pictures of frames; the last frames decoded are kept for the next question (24 MP: 100 ms
  // for the decode, 10 ms for a further crop of 1000 px).
  virtual std::vector<Result<Rendering>> render(const std::vector<RenderTask>& tasks) = 0;

  // Bursts come back in the order they were submitted. Work goes on in the background; submit() does not
  // wait.
  virtual void submit(BurstTask task) = 0;
  // The oldest burst not yet taken; at least one must be. Waits; calls `frame_done` from this thread for
  // every frame measured. Nothing when `stop` was set meanwhile. An Error when the engine can't go on at all.
  virtual Result<std::optional<BurstFacts>> next(const std::function<void()>& frame_done,
                                                 const std::atomic<bool>* stop) = 0;

  // An Error once the engine can't go on at all; every answer since then is worth nothing.
  virtual Status status() const = 0;
  // Frames it works on at once: how far ahead to submit.
  virtual int threads() const = 0;
  // The subject detector at work (subject::detector_identity()); empty when there is none. Facts measured
  // with another one, or none, are others.
  virtual std::string detector() const = 0;
  // What the photographer should know about how the work was done, one line each; empties the list.
  virtual std::vector<Error> take_notes() = 0;
};

// Told when items enter and leave dangerous ground. Called from many threads.
class EngineObserver {
 public:
  virtual ~EngineObserver() = default;
  // task: counted from 0 over everything asked of the engine.
  virtual void begin(std::uint64_t task, std::uint32_t item, Step step, const std::string& path) = 0;
  virtual void end(std::uint64_t task, std::uint32_t item, Step step) = 0;
};

// In this process. threads: 0 is one per core.
std::unique_ptr<Engine> make_local_engine(int threads, const Limits& limits,
                                          EngineObserver* observer = nullptr,
                                          std::shared_ptr<subject::DetectorPool> detectors = nullptr);

// One per core for 0.
int thread_count(int threads);

}  // namespace burstsieve::pipeline
