// What an engine process that was taken over might say to its supervisor.
#include <limits>

#include "builder.h"
#include "cases.h"
#include "engine_records.h"

namespace burstsieve::fuzz {
namespace {

using namespace burstsieve::pipeline;

FactsRecord honest_facts() {
  FactsRecord r;
  r.facts.decoded = true;
  r.facts.pixel_width = 6000;
  r.facts.pixel_height = 4000;
  r.facts.subjects = {{{.1, .2, .3, .4}, std::nullopt, .7, "focus energy"}};
  r.facts.mask = {2, 1, {1, 0}};
  r.facts.measures = {{"blur_sigma_px", .9, "px", .8, "jpeg"}};
  r.facts.notes = {"tide rising"};
  r.thumbnail = {0xff, 0xd8, 0xff, 0xd9};
  return r;
}

template <class Change>
ByteBuffer facts_with(Change change) {
  FactsRecord r = honest_facts();
  change(r.facts);
  return framed(RecordKind::facts, encode(r));
}

ByteBuffer one_after_another(ByteBuffer a, const ByteBuffer& b) {
  a.insert(a.end(), b.begin(), b.end());
  return a;
}

}  // namespace

void add_pipe_records(Cases& to) {
  const auto add = [&](const char* name, const ByteBuffer& bytes) {
    to.push_back({"pipe_records", name, bytes});
  };
  Frame frame;
  frame.raw = FileRef{"/harbour/A.DNG", FileKind::raw, "DNG", 9, 8, 7};
  add("honest-facts.rec", facts_with([](FrameFacts&) {}));
  add("honest-burst.rec", framed(RecordKind::burst, encode(BurstTask{{frame}, {}, true})));
  add("honest-hello-and-place.rec",
      one_after_another(framed(RecordKind::hello, encode(Hello{kProtocol, 2, {}, 1u << 30, "model"})),
                        framed(RecordKind::begin, encode(Place{1, 2, Step::mosaic}))));
  Capture capture;
  capture.make = "Saltmarsh";
  add("honest-captures.rec", framed(RecordKind::captures, encode(std::vector<CaptureAnswer>{
                                                              {capture, {}, {}}, {{}, Cause::io, "gone"}})));
  Rendering picture;
  picture.jpeg = {0xff, 0xd8, 0xff, 0xd9};
  picture.width = picture.height = 100;
  picture.region = {.1, .2, .3, .4};
  picture.full_width = picture.full_height = 4000;
  const auto rendering = [](const Rendering& r) {
    return framed(RecordKind::renderings, encode(std::vector<RenderAnswer>{{r, {}, {}}}));
  };
  add("honest-rendering.rec", rendering(picture));
  add("honest-render-task.rec", framed(RecordKind::renders, encode(std::vector<RenderTask>{{frame}})));
  add("render-without-files.rec", framed(RecordKind::renders, encode(std::vector<RenderTask>{{}})));
  Rendering page = picture;
  page.jpeg = {'<', 'h', 't', 'm', 'l', '>'};
  add("rendering-that-is-a-page.rec", rendering(page));
  Rendering huge = picture;
  huge.width = 1 << 30;
  add("rendering-a-billion-wide.rec", rendering(huge));
  add("empty.rec", {});
  add("length-of-nothing.rec", Builder().u32(0).done());
  add("length-of-four-gigabytes.rec", Builder().u32(0xffffffff).u8(10).done());
  add("length-beyond-what-comes.rec", Builder().u32(1000).u8(10).fill(20, 0).done());
  add("kind-nobody-knows.rec", Builder().u32(1).u8(99).done());
  add("nonsense-after-a-good-record.rec",
      one_after_another(facts_with([](FrameFacts&) {}), Builder().u32(0xffffffff).u8(1).done()));
  add("four-billion-answers.rec", Builder().u32(9).u8(8).u32(0xffffffff).u32(0).done());
  add("measure-that-is-no-number.rec",
      facts_with([](FrameFacts& f) { f.measures[0].value = std::numeric_limits<double>::quiet_NaN(); }));
  add("confidence-of-nine.rec", facts_with([](FrameFacts& f) { f.measures[0].confidence = 9; }));
  add("mask-whose-size-wraps-to-nothing.rec", facts_with([](FrameFacts& f) {
        f.mask = {1 << 16, 1 << 16, {}};
      }));
  add("mask-of-minus-two-squared.rec", facts_with([](FrameFacts& f) { f.mask = {-2, -2, {0, 0, 0, 0}}; }));
  add("mask-beside-the-frame.rec", facts_with([](FrameFacts& f) { f.mask.where.x = .9; }));
  add("subject-outside-the-frame.rec", facts_with([](FrameFacts& f) { f.subjects[0].box.x = .9; }));
  add("pose-tile-of-one-byte.rec", facts_with([](FrameFacts& f) { f.pose.tile = {1}; }));
  add("note-clears-the-screen.rec", facts_with([](FrameFacts& f) { f.notes = {"\x1b[2J"}; }));
  add("burst-without-frames.rec", framed(RecordKind::burst, encode(BurstTask{})));
  add("frame-without-files.rec", framed(RecordKind::burst, encode(BurstTask{{Frame{}}, {}, false})));
  add("hello-of-another-version.rec", framed(RecordKind::hello, encode(Hello{kProtocol + 1, 1, {}, 0, {}})));
}

}  // namespace burstsieve::fuzz
