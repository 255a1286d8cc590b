// The neural detector against the original model, against pictures of known truth, and against bad input.
#include "burstsieve/subject/detector.h"

#include <doctest/doctest.h>

#include <atomic>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <nlohmann/json.hpp>
#include <opencv2/dnn.hpp>
#include <opencv2/imgcodecs.hpp>
#include <opencv2/imgproc.hpp>
#include <thread>

#include "base/temp_folder.h"
#include "base/test_data.h"
#include "drawn.h"

using namespace burstsieve;
using subject::Detection;
using subject::Detector;

namespace {

bool installed() {
  const bool there = std::filesystem::exists(subject::detector_file());
  if (!there) MESSAGE("SKIP: no detector installed (tools/setup.sh --detector)");
  return there;
}

const nlohmann::json& detector_reference() {
  static const auto read = [] {
    std::ifstream in(std::string(BURSTSIEVE_SOURCE_DIR) + "/tests/subject/data/detector-reference.json");
    return nlohmann::json::parse(in);
  }();
  return read;
}

cv::Mat detector_drawing(const std::string& name) {
  return test::drawn(name == "bird" ? test::bird_at : test::pattern_at);
}

// Straight from OpenCV's example of use, not by our own code: the normalisation is the training's.
std::vector<cv::Mat> raw_outputs(const cv::Mat& bgr) {
  cv::dnn::Net net = cv::dnn::readNetFromONNX(subject::detector_file());
  cv::Mat input;
  bgr.convertTo(input, CV_32F);
  input -= cv::Scalar(103.53, 116.28, 123.675);
  cv::divide(input, cv::Scalar(57.375, 57.12, 58.395), input);
  net.setInput(cv::dnn::blobFromImage(input));
  std::vector<cv::Mat> out;
  net.forward(out, std::vector<cv::String>{"scores8", "scores16", "scores32", "distances8", "distances16",
                                           "distances32"});
  return out;
}

std::unique_ptr<Detector> loaded_detector() {
  auto d = Detector::load(subject::detector_file());
  REQUIRE(d);
  return std::move(*d);
}

std::vector<Detection> detected(Detector& detector, const cv::Mat& bgr) {
  auto d = detector.detect(bgr);
  REQUIRE(d);
  return std::move(*d);
}

// A cut-out of the drawing package, `side` px wide or 1.4 times as high, on a backdrop; its truth is the box
// of what is opaque.
struct Composed {
  cv::Mat picture;
  Region truth;
};

Composed composed(const std::string& stamp, cv::Mat backdrop, int side, cv::Point at) {
  cv::Mat cut = cv::imread(stamp, cv::IMREAD_UNCHANGED);
  Composed out;
  if (cut.channels() != 4) return out;
  const double scale = std::min(static_cast<double>(side) / cut.cols, 1.4 * side / cut.rows);
  cv::resize(cut, cut, {}, scale, scale, scale < 1 ? cv::INTER_AREA : cv::INTER_LINEAR);
  cv::Mat opaque;
  for (int y = 0; y < cut.rows; ++y)
    for (int x = 0; x < cut.cols; ++x) {
      const auto c = cut.at<cv::Vec4b>(y, x);
      auto& to = backdrop.at<cv::Vec3b>(at.y + y, at.x + x);
      for (int k = 0; k < 3; ++k)
        to[k] = static_cast<unsigned char>((c[k] * c[3] + to[k] * (255 - c[3])) / 255);
    }
  cv::extractChannel(cut, opaque, 3);
  const cv::Rect box = cv::boundingRect(opaque > 127);
  out.truth = {
      static_cast<double>(at.x + box.x) / backdrop.cols, static_cast<double>(at.y + box.y) / backdrop.rows,
      static_cast<double>(box.width) / backdrop.cols, static_cast<double>(box.height) / backdrop.rows};
  out.picture = backdrop;
  return out;
}

}  // namespace

TEST_SUITE("subject/detector") {
  // data/detector-reference.json: the original model run by TensorFlow.js in plain JavaScript
  // (tools/convert-detector/reference.mjs).
  TEST_CASE("the converted model gives the original's scores and distances") {
    if (!installed()) return;
    const std::vector<std::string> names{"scores8",    "scores16",    "scores32",
                                         "distances8", "distances16", "distances32"};
    for (const std::string picture : {"bird", "pattern"}) {
      CAPTURE(picture);
      const auto outputs = raw_outputs(detector_drawing(picture));
      const auto& expected = detector_reference()["pictures"][picture];
      const auto every = expected["every"].get<std::size_t>();
      std::size_t compared = 0;
      double worst_score = 0, worst_distance = 0;
      for (std::size_t o = 0; o < names.size(); ++o) {
        const auto at = [&](std::size_t i) { return static_cast<double>(outputs[o].ptr<float>()[i]); };
        double& worst = o < 3 ? worst_score : worst_distance;
        const auto& values = expected["values"][names[o]];
        REQUIRE((values.size() - 1) * every < outputs[o].total());
        REQUIRE(values.size() * every >= outputs[o].total());
        for (std::size_t i = 0; i < values.size(); ++i, ++compared)
          worst = std::max(worst, std::abs(at(i * every) - values[i].get<double>()));
        if (o >= 3) continue;
        for (const auto& s : expected["strongest"][names[o]])
          worst = std::max(worst, std::abs(at(s[0].get<std::size_t>()) - s[1].get<double>()));
      }
      CHECK(compared > 400);
      CHECK(worst_score < 1e-4);
      CHECK(worst_distance < 1e-3);
    }
  }

  TEST_CASE("the box of the drawn bird is the strongest of the original's, and lies on the bird") {
    if (!installed()) return;
    const auto& all = detector_reference()["pictures"]["bird"]["seen"];
    const auto strongest = std::max_element(all.begin(), all.end(), [](const auto& a, const auto& b) {
      return a["score"].template get<double>() < b["score"].template get<double>();
    });
    REQUIRE(strongest != all.end());
    const auto found = detected(*loaded_detector(), detector_drawing("bird"));
    REQUIRE_FALSE(found.empty());
    const auto box = (*strongest)["box"].get<std::vector<double>>();
    CHECK(std::abs(found[0].box.x - box[0]) < 1e-3);
    CHECK(std::abs(found[0].box.y - box[1]) < 1e-3);
    CHECK(std::abs(found[0].box.right() - box[2]) < 1e-3);
    CHECK(std::abs(found[0].box.bottom() - box[3]) < 1e-3);
    CHECK(std::abs(found[0].confidence - (*strongest)["score"].get<double>()) < 1e-4);
    CHECK(found[0].category == (*strongest)["category"].get<int>());
    CHECK(overlap(found[0].box, {60 / 416., 105 / 416., 265 / 416., 205 / 416.}) > .5);
  }

  // The model file names 416x416 in six shapes; freed of them the same convolutions must give what they gave.
  TEST_CASE("the strip that a 3:2 frame needs shows the same as the square with its margins") {
    if (!installed()) return;
    const auto detector = loaded_detector();
    const cv::Mat square = detector_drawing("bird");
    const cv::Mat strip = square.rowRange(64, 64 + 288).clone();
    cv::Mat framed;
    cv::copyMakeBorder(strip, framed, 64, 64, 0, 0, cv::BORDER_CONSTANT, cv::Scalar::all(114));
    const auto a = detected(*detector, strip), b = detected(*detector, framed);
    REQUIRE_FALSE(a.empty());
    REQUIRE_FALSE(b.empty());
    const Region in_strip{b[0].box.x, (b[0].box.y * 416 - 64) / 288, b[0].box.w, b[0].box.h * 416 / 288};
    CHECK(overlap(a[0].box, in_strip) > .9);
    CHECK(std::abs(a[0].confidence - b[0].confidence) < .1);
    // A quarter of the pixels; still the bird.
    const auto small = detector->detect(square, {subject::kCropSide, .2});
    REQUIRE(small);
    REQUIRE_FALSE(small->empty());
    CHECK(overlap((*small)[0].box, {60 / 416., 105 / 416., 265 / 416., 205 / 416.}) > .5);
  }

  TEST_CASE("a real nuthatch, however large the picture and wherever it is laid") {
    const std::string file =
        test::data_cache() + "/lomiri-wallpapers-20.04/usr/share/backgrounds/Kleiber_by_Lukas_Baubkus.jpg";
    if (!std::filesystem::exists(file)) {
      MESSAGE("SKIP: no test data (tools/test-data.sh)");
      return;
    }
    if (!installed()) return;
    const auto detector = loaded_detector();
    const cv::Mat eighth = cv::imread(file, cv::IMREAD_REDUCED_COLOR_8);
    REQUIRE_FALSE(eighth.empty());
    // Read off the photograph by eye: from bill to tail, from feet to crown.
    const Region truth{.403, .349, .135, .307};
    for (const double scale : {1.0, .6, 1.7}) {
      CAPTURE(scale);
      cv::Mat picture;
      cv::resize(eighth, picture, {}, scale, scale, scale < 1 ? cv::INTER_AREA : cv::INTER_LINEAR);
      const auto found = detected(*detector, picture);
      REQUIRE_FALSE(found.empty());
      CHECK(overlap(found[0].box, truth) >= .5);
      CHECK(found[0].confidence >= .3);
    }
    cv::Mat upright;
    cv::copyMakeBorder(eighth, upright, 400, 100, 0, 0, cv::BORDER_REPLICATE);
    const auto found = detected(*detector, upright);
    REQUIRE_FALSE(found.empty());
    const double h = upright.rows;
    CHECK(overlap(found[0].box,
                  {truth.x, (400 + truth.y * eighth.rows) / h, truth.w, truth.h * eighth.rows / h}) >= .5);
  }

  TEST_CASE("bird cut-outs on a plain and on a real backdrop") {
    namespace fs = std::filesystem;
    const std::string birds =
        test::data_cache() + "/tuxpaint-stamps-default/usr/share/tuxpaint/stamps/animals/birds";
    if (!fs::exists(birds)) {
      MESSAGE("SKIP: no test data (tools/test-data.sh)");
      return;
    }
    if (!installed()) return;
    const auto detector = loaded_detector();
    cv::Mat grass = cv::imread(test::data_cache() +
                               "/python3-skimage/usr/lib/python3/dist-packages/skimage/data/grass.png");
    int tried = 0, hit[2]{};
    std::vector<std::string> files;
    for (const auto& e : fs::recursive_directory_iterator(birds)) files.push_back(e.path().string());
    std::sort(files.begin(), files.end());
    for (const std::string& file : files) {
      if (!file.ends_with(".png") || ++tried > 24) continue;
      for (int i = 0; i < 2; ++i) {
        cv::Mat backdrop(500, 750, CV_8UC3, cv::Scalar(190, 170, 140));
        if (i == 1) cv::resize(grass, backdrop, backdrop.size());
        const Composed c = composed(file, backdrop, 230, {260, 90});
        if (c.picture.empty()) continue;
        const auto found = detected(*detector, c.picture);
        hit[i] += !found.empty() && overlap(found[0].box, c.truth) >= .5;
      }
    }
    MESSAGE("of ", std::min(tried, 24), ": ", hit[0], " on plain, ", hit[1], " on grass");
    REQUIRE(tried >= 20);
    CHECK(hit[0] >= 20);  // 22
    CHECK(hit[1] >= 20);  // 22
  }

  TEST_CASE("nothing in black, white, flat and noise; nothing bad from tiny and odd pictures") {
    if (!installed()) return;
    const auto detector = loaded_detector();
    for (const int level : {0, 128, 255})
      for (const cv::Size size :
           {cv::Size(750, 500), {1, 1}, {31, 31}, {32, 32}, {1, 900}, {900, 1}, {33, 2000}})
        CHECK(detected(*detector, cv::Mat(size, CV_8UC3, cv::Scalar::all(level))).empty());
    cv::Mat noise(500, 750, CV_8UC3);
    cv::RNG(7).fill(noise, cv::RNG::NORMAL, 128, 40);
    CHECK(detected(*detector, noise).empty());
    CHECK(detected(*detector, detector_drawing("pattern")).empty());
    CHECK(detected(*detector, cv::Mat()).empty());
    CHECK(detected(*detector, cv::Mat(100, 100, CV_8UC1, cv::Scalar(0))).empty());
  }

  TEST_CASE("the same picture, the same answer: two detectors in two threads, and a pool") {
    if (!installed()) return;
    const cv::Mat bird = detector_drawing("bird"), pattern = detector_drawing("pattern");
    auto pool = subject::DetectorPool::load(subject::detector_file());
    REQUIRE(pool);
    const auto once = (*pool)->detect(bird);
    REQUIRE(once);
    const auto same = [](const std::vector<Detection>& a, const std::vector<Detection>& b) {
      return std::equal(a.begin(), a.end(), b.begin(), b.end(), [](const Detection& x, const Detection& y) {
        return x.box == y.box && x.confidence == y.confidence && x.category == y.category;
      });
    };
    std::atomic<int> equal = 0;
    const auto work = [&] {
      for (int i = 0; i < 3; ++i) {
        const auto other = (*pool)->detect(pattern);
        const auto again = (*pool)->detect(bird);
        equal += other && other->empty() && again && same(*again, *once);
      }
    };
    std::thread a(work), b(work);
    a.join();
    b.join();
    CHECK(equal == 6);
  }

  TEST_CASE("a file that is missing, damaged or another model is one clear error") {
    test::TempFolder folder;
    const auto missing = Detector::load(folder.at("none.onnx"));
    REQUIRE_FALSE(missing);
    CHECK(missing.error().cause == Cause::io);
    CHECK(missing.error().file == folder.at("none.onnx"));
    const auto refused = [&](const std::string& contents) {
      folder.write("m.onnx", contents);
      const auto d = Detector::load(folder.at("m.onnx"));
      REQUIRE_FALSE(d);
      CHECK(d.error().cause == Cause::unsupported);
      CHECK(d.error().line().find("setup.sh --detector") != std::string::npos);
      CHECK_FALSE(subject::DetectorPool::load(folder.at("m.onnx")));
    };
    refused("");
    refused("not a model");
    refused(std::string(20'000'000, '\0'));
    if (!installed()) return;
    std::ifstream in(subject::detector_file(), std::ios::binary);
    std::string model{std::istreambuf_iterator<char>(in), {}};
    REQUIRE(model.size() > 1'000'000);
    refused(model.substr(0, model.size() / 2));
    refused(model + "x");
    model[model.size() / 2] = static_cast<char>(model[model.size() / 2] ^ 1);
    refused(model);
  }

  TEST_CASE("doubles and parts join the whole animal; a group does not swallow its members") {
    using subject::without_doubles;
    const Detection bird{{.2, .2, .4, .4}, .5, 14};
    const auto only = without_doubles({bird, {{.21, .2, .4, .4}, .45, 16}});
    REQUIRE(only.size() == 1);
    CHECK(only[0].confidence == .5);
    // A wing inside, the stronger of the two.
    const auto whole = without_doubles({{{.22, .25, .15, .2}, .6, 14}, bird});
    REQUIRE(whole.size() == 1);
    CHECK((whole[0].box == bird.box));
    // The large box is a guess.
    const auto sure = without_doubles({{{.1, .1, .8, .8}, .2, 14}, {{.2, .2, .2, .2}, .7, 14}});
    CHECK(sure.size() == 2);
    CHECK(sure[0].box.w == .2);
    const auto pair = without_doubles(
        {{{.1, .3, .8, .3}, .4, 14}, {{.12, .32, .2, .25}, .6, 14}, {{.6, .32, .2, .25}, .5, 14}});
    REQUIRE(pair.size() == 2);
    CHECK(pair[0].box.w == .2);
    CHECK(pair[1].box.w == .2);
    // Bark that looks like a giraffe, and the bird on it.
    const auto on_bark = without_doubles({{{0, 0, .5, 1}, .6, 23}, {{.3, .3, .15, .3}, .35, 14}});
    REQUIRE(on_bark.size() == 2);
    CHECK(on_bark[0].category == 14);
    CHECK(without_doubles({}).empty());
  }
}
