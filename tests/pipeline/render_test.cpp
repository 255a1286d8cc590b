// Pictures of frames from the engine, in this process and from its own.
#include <doctest/doctest.h>

#include <algorithm>

#include "burstsieve/decode/pixels.h"
#include "burstsieve/pipeline/engine_process.h"
#include "pipeline/sample.h"

using namespace burstsieve;
using test::SampleFolder;
namespace fs = std::filesystem;

namespace {

constexpr const char* kFrame = "DCIM/101SALTM/BSG_0014.JPG";

pipeline::RenderTask task_of(const std::string& path, const Region& region = {0, 0, 1, 1}, int side = 400) {
  pipeline::RenderTask t;
  t.frame.jpeg = FileRef{path, FileKind::jpeg, "JPEG", fs::exists(path) ? fs::file_size(path) : 0, 0, 0};
  t.region = region;
  t.side = side;
  return t;
}

std::unique_ptr<pipeline::Engine> engine_of(const std::string& program) {
  pipeline::EngineOptions options;
  options.program = program;
  options.hang_seconds = program == FAULTY_ENGINE ? 3 : 90;
  auto engine = pipeline::make_engine(options, 2, Limits{});
  if (!engine) throw std::runtime_error(engine.error().line());
  return std::move(*engine);
}

}  // namespace

TEST_SUITE("pipeline/render") {
  TEST_CASE("the same picture from another process as from this one, and as the decoder cuts it") {
    const SampleFolder s(false);
    const std::string path = test::sample_source() + "/" + kFrame;
    const auto planes = decode::decode_planes(*task_of(path).frame.jpeg, 1, Limits{});
    REQUIRE(planes);
    const auto eighth = decode::eighth_colour(*planes);
    const std::vector<Region> regions{{0, 0, 1, 1}, {.2, .3, .25, .25}, {.9, .9, .2, .2}, {.5, .5, .01, .01}};
    for (const std::string& program : {std::string(), std::string(FAULTY_ENGINE)}) {
      const auto engine = engine_of(program);
      std::vector<pipeline::RenderTask> tasks;
      for (const Region& r : regions) tasks.push_back(task_of(path, r));
      const auto out = engine->render(tasks);
      REQUIRE(out.size() == tasks.size());
      for (std::size_t i = 0; i < out.size(); ++i) {
        REQUIRE(out[i]);
        const auto expected = decode::rendered(*planes, eighth, regions[i], 400, 85);
        CHECK((out[i]->jpeg == std::vector<std::uint8_t>(expected.jpeg.begin(), expected.jpeg.end())));
        CHECK(out[i]->width == expected.width);
        CHECK((out[i]->region == expected.region));
        CHECK(out[i]->full_width == planes->upright_width());
      }
    }
  }

  TEST_CASE("a file that crashes, hangs or babbles costs its own picture; the next question is answered") {
    const SampleFolder s;
    const std::string good = s.folder.at(kFrame);
    for (const char* fault : {"crash", "hang", "babble"}) {
      CAPTURE(fault);
      const std::string bad = s.folder.at(std::string("DCIM/at-picture-") + fault + ".JPG");
      fs::copy(good, bad);
      const auto engine = engine_of(FAULTY_ENGINE);
      const auto out = engine->render({task_of(good), task_of(bad), task_of(good, {.1, .1, .2, .2})});
      CHECK(out[0]);
      CHECK(out[2]);
      REQUIRE(!out[1]);
      CHECK(out[1].error().file == bad);
      CHECK(out[1].error().text.find("decoder") != std::string::npos);
      CHECK(engine->render({task_of(good)})[0]);
      CHECK(engine->status());
    }
  }

  TEST_CASE("no file, no photograph, no place in the frame, no size: one error each") {
    const SampleFolder s;
    const std::string good = s.folder.at(kFrame);
    s.folder.write("notes.jpg", "tide tables, not a photograph");
    const auto engine = engine_of("");
    const auto out = engine->render({task_of(s.folder.at("gone.jpg")), task_of(s.folder.at("notes.jpg")),
                                     task_of(good, {2, 2, 1, 1}), task_of(good, {0, 0, 1, 1}, 0),
                                     task_of(good, {0, 0, 1, 1}, pipeline::kMaxRenderSide + 1)});
    for (const auto& r : out) CHECK(!r);
    CHECK(out[0].error().cause == Cause::io);
    CHECK(out[2].error().cause == Cause::unsupported);
    // What failed is tried anew: the card may be back.
    fs::copy(good, s.folder.at("gone.jpg"));
    CHECK(engine->render({task_of(s.folder.at("gone.jpg"))})[0]);
  }
}
