// What the supervisor reads from the engine's pipe: everything it would write comes back, nothing else does.
#include "../../src/pipeline/engine_records.h"

#include <doctest/doctest.h>

#include <cmath>
#include <limits>
#include <random>

using namespace burstsieve;
using namespace burstsieve::pipeline;

namespace {

FactsRecord some_facts() {
  FactsRecord r;
  r.facts.decoded = true;
  r.facts.pixel_width = 600;
  r.facts.pixel_height = 400;
  r.facts.pixel_source = "jpeg";
  r.facts.subjects = {{{.1, .2, .3, .4},
                       Region{.15, .2, .1, .1},
                       .8,
                       "AF area",
                       {{"blur_sigma_px", 1.25, "px", .9, "jpeg"}}}};
  r.facts.mask = {2, 2, {1, 0, 0, 1}};
  r.facts.measures = {{"blur_sigma_px", 1.25, "px", .9, "jpeg"}};
  r.facts.pose = {77, std::vector<std::uint8_t>(64 * 64, 9)};
  r.facts.notes = {"a note"};
  r.thumbnail = {1, 2, 3};
  return r;
}

BurstTask some_task() {
  BurstTask t;
  Frame f;
  f.raw = FileRef{"/card/A.DNG", FileKind::raw, "DNG", 5, 6, 7};
  f.copies = {FileRef{"/card/B.DNG", FileKind::raw, "DNG", 5, 6, 7}};
  f.capture.make = "Kestrelworks";
  f.capture.time_ms = 12345;
  f.capture.distance = SubjectDistance{20, 18, 22, "lens"};
  f.capture.af = AfArea{{.4, .4, .1, .1}, .9, "AF"};
  t.frames = {f, f};
  t.mishaps = {{1, Step::mosaic, "crashed", false}};
  t.one_by_one = true;
  return t;
}

template <class T>
void every_cut_is_refused(const ByteBuffer& whole) {
  for (std::size_t n = 0; n < whole.size(); ++n) {
    T out;
    CHECK_FALSE(decode(Bytes(whole).first(n), out));
  }
  ByteBuffer longer = whole;
  longer.push_back(0);
  T out;
  CHECK_FALSE(decode(longer, out));
}

// No outcome is wrong but a crash or a sanitizer report.
template <class T>
void survives_damage(const ByteBuffer& whole) {
  std::mt19937 random(4);
  for (int round = 0; round < 3000; ++round) {
    ByteBuffer bad = whole;
    for (int k = 0; k < 1 + round % 4; ++k) bad[random() % bad.size()] = static_cast<std::uint8_t>(random());
    T out;
    static_cast<void>(decode(bad, out));
  }
}

bool accepted(const FactsRecord& r) {
  FactsRecord out;
  return decode(encode(r), out);
}

}  // namespace

TEST_SUITE("pipeline/engine_records") {
  TEST_CASE("facts and tasks come back as they went") {
    const FactsRecord sent = some_facts();
    FactsRecord got;
    REQUIRE(decode(encode(sent), got));
    FrameFacts expected = sent.facts;
    expected.thumbnail = sent.thumbnail;
    CHECK((got.facts == expected));
    BurstTask task;
    REQUIRE(decode(encode(some_task()), task));
    REQUIRE(task.frames.size() == 2);
    CHECK((*task.frames[1].raw == *some_task().frames[1].raw));
    CHECK((task.frames[0].copies == some_task().frames[0].copies));
    CHECK((task.frames[0].capture == some_task().frames[0].capture));
    REQUIRE(task.mishaps.size() == 1);
    CHECK(task.mishaps[0].step == Step::mosaic);
    CHECK(task.one_by_one);
  }

  TEST_CASE("a record cut at any byte, or longer than it should be, is refused") {
    every_cut_is_refused<FactsRecord>(encode(some_facts()));
    every_cut_is_refused<BurstTask>(encode(some_task()));
    every_cut_is_refused<Place>(encode(Place{3, 4, Step::picture}));
    every_cut_is_refused<std::vector<CaptureAnswer>>(
        encode(std::vector<CaptureAnswer>{{some_task().frames[0].capture, {}, {}}, {{}, Cause::io, "no"}}));
  }

  TEST_CASE("damaged records do no harm") {
    survives_damage<FactsRecord>(encode(some_facts()));
    survives_damage<BurstTask>(encode(some_task()));
    survives_damage<std::vector<IdentityAnswer>>(
        encode(std::vector<IdentityAnswer>{{Identity{FileKind::raw, "DNG", 9}, {}, {}}}));
  }

  TEST_CASE("an engine that was taken over can't pass off nonsense: each lie is refused") {
    const auto with = [](auto change) {
      FactsRecord r = some_facts();
      change(r.facts);
      return accepted(r);
    };
    CHECK(with([](FrameFacts&) {}));
    CHECK_FALSE(with([](FrameFacts& f) { f.measures[0].value = std::nan(""); }));
    CHECK_FALSE(with([](FrameFacts& f) { f.measures[0].value = std::numeric_limits<double>::infinity(); }));
    CHECK_FALSE(with([](FrameFacts& f) { f.measures[0].confidence = 1.5; }));
    CHECK_FALSE(with([](FrameFacts& f) { f.mask.cols = 1000; }));
    CHECK_FALSE(with([](FrameFacts& f) { f.mask = {65536, 65536, {}}; }));
    CHECK_FALSE(with([](FrameFacts& f) { f.mask.where.x = .5; }));
    CHECK_FALSE(with([](FrameFacts& f) { f.mask.where.w = -1; }));
    CHECK_FALSE(with([](FrameFacts& f) { f.mask.confidence = 1.5; }));
    CHECK_FALSE(with([](FrameFacts& f) { f.subjects[0].box.w = 2; }));
    CHECK_FALSE(with([](FrameFacts& f) { f.subjects[0].confidence = 1.5; }));
    CHECK_FALSE(with([](FrameFacts& f) { f.subjects[0].measures[0].confidence = -1; }));
    CHECK_FALSE(with([](FrameFacts& f) { f.subjects[0].head = Region{-1, 0, .1, .1}; }));
    CHECK_FALSE(with([](FrameFacts& f) { f.pose.tile.resize(10); }));
    CHECK_FALSE(with([](FrameFacts& f) { f.pixel_width = -5; }));
  }

  TEST_CASE("nor a focus distance that is none") {
    const auto with = [](const SubjectDistance& d) {
      Capture c;
      c.distance = d;
      std::vector<CaptureAnswer> out;
      return decode(encode(std::vector<CaptureAnswer>{{c, {}, {}}}), out);
    };
    CHECK(with({20, 18, 22, "lens"}));
    CHECK_FALSE(with({0, {}, {}, "lens"}));
    CHECK_FALSE(with({-3, {}, {}, "lens"}));
    CHECK_FALSE(with({20, 21, 22, "lens"}));
    CHECK_FALSE(with({20, 18, 19, "lens"}));
    CHECK_FALSE(with({20, 0, 22, "lens"}));
    CHECK_FALSE(with({std::nan(""), {}, {}, "lens"}));
  }

  TEST_CASE("what it says can't drive the terminal") {
    FactsRecord r = some_facts(), got;
    r.facts.damage = "red\x1b[31m\nsecond line";
    REQUIRE(decode(encode(r), got));
    CHECK(got.facts.damage.find('\x1b') == std::string::npos);
    CHECK(got.facts.damage.find('\n') == std::string::npos);
  }

  TEST_CASE("the stream: records in pieces of one byte; lengths and kinds out of range end it") {
    ByteBuffer stream = framed(RecordKind::facts, encode(some_facts()));
    const ByteBuffer second = framed(RecordKind::frame_done, {});
    stream.insert(stream.end(), second.begin(), second.end());
    RecordStream in;
    std::vector<Record> got;
    for (const std::uint8_t byte : stream) {
      in.add(Bytes(&byte, 1));
      while (auto record = in.next()) got.push_back(std::move(*record));
    }
    REQUIRE(got.size() == 2);
    CHECK((got[0].payload == encode(some_facts())));
    CHECK(got[1].kind == RecordKind::frame_done);
    CHECK_FALSE(in.broken());
    for (const ByteBuffer& bad :
         {ByteBuffer{0, 0, 0, 0}, ByteBuffer{255, 255, 255, 255, 1}, ByteBuffer{1, 0, 0, 0, 99}}) {
      RecordStream broken;
      broken.add(bad);
      CHECK_FALSE(broken.next());
      CHECK(broken.broken());
    }
  }
}
