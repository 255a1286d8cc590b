// A large shoot: what the page has to read of it. With BURSTSIEVE_FIGURES in the environment 10,000 frames,
// and the time is told.
#include <doctest/doctest.h>
#include <fmt/format.h>

#include <chrono>
#include <cstdlib>
#include <nlohmann/json.hpp>

#include "burstsieve/serve/shoot.h"

using namespace burstsieve;

TEST_SUITE("serve/large") {
  TEST_CASE("many frames in one answer: valid, small, numbered without gaps") {
    const bool figures = std::getenv("BURSTSIEVE_FIGURES") != nullptr;
    const int bursts = figures ? 400 : 40;
    const auto frames = static_cast<std::size_t>(bursts) * 25;
    serve::Shoot shoot;
    for (int b = 0; b < bursts; ++b) {
      BurstOutcome burst{b + 1, "Saltmarsh Optics SO-1 #1", {}, true};
      for (int i = 0; i < 25; ++i) {
        FrameOutcome f;
        f.frame.jpeg = FileRef{fmt::format("/marsh/BSG_{:05}.JPG", b * 25 + i), FileKind::jpeg, "JPEG", 1, 2,
                               static_cast<std::uint64_t>(b * 25 + i)};
        f.frame.capture.time_ms = 1'776'000'000'000 + b * 4000 + i * 50;
        f.facts.decoded = true;
        f.facts.pixel_width = 6000;
        f.facts.pixel_height = 4000;
        f.facts.subjects = {{{.123456, .234567, .3, .4},
                             Region{.2, .3, .1, .1},
                             .9,
                             "AF area",
                             {},
                             HeadView::visible,
                             .8,
                             ""}};
        for (const char* id : {"blur_sigma_px", "motion_px", "white_gone", "white_partly", "cut_by_edge"})
          f.facts.measures.push_back({id, .123456 * (i + 1), "px", .876543, "jpeg"});
        f.facts.thumbnail.assign(10'000, 7);
        f.verdict = {
            Verdict::reject,
            -1,
            {{"soft", "blur 2.50 px, limit 2.2 px; BSG_00012.JPG is at 0.70 px", 2.5, "px", 2.2, .9}},
            1,
            i + 1,
            "BSG_00012.JPG"};
        burst.frames.push_back(std::move(f));
      }
      shoot.add(std::move(burst));
    }
    REQUIRE(shoot.frames() == frames);
    CHECK(shoot.frame(1).facts.thumbnail.capacity() == 0);
    serve::Decisions decisions(shoot.keys());
    const auto start = std::chrono::steady_clock::now();
    const std::string text = "{" + shoot.frames_json(decisions) + "}";
    const auto took = std::chrono::steady_clock::now() - start;
    if (figures)
      MESSAGE(fmt::format("{} bytes a frame, {} ms", text.size() / frames,
                          std::chrono::duration_cast<std::chrono::milliseconds>(took).count()));
    CHECK(text.size() < 600 * frames);
    const auto j = nlohmann::json::parse(text);
    REQUIRE(j["frames"].size() == frames);
    for (std::size_t i = 0; i < frames; ++i) REQUIRE(j["frames"][i]["id"] == i + 1);
    CHECK(j["bursts"].back()["frames"][24] == frames);
    CHECK(j["frames"][26]["head"][2] == .1);
  }
}
