#include "burstsieve/report/sheet.h"

#include <doctest/doctest.h>

#include <cmath>
#include <cstdio>
#include <filesystem>
#include <set>

#include "base/temp_folder.h"
#include "burstsieve/report/own_page.h"

using namespace burstsieve;
using report::SheetFolder;
using report::SheetOptions;

namespace {

namespace files = std::filesystem;

const std::vector<std::string> kHostile{
    "<img src=x onerror=alert(1)>.JPG",
    "\"' onload=\"alert(1).JPG",
    "&amp;</title><script>alert(1)</script>.JPG",
    "zwei\nZeilen\x1b[31m.JPG",
    "\xff\xfe kein Text.JPG",
    "\xe2\x80\xaeGPJ.rechts.JPG",  // U+202E turns the direction of writing
    std::string(240, 'W') + ".JPG",
};
// Diacritics, Greek, Hebrew, Arabic (whose letters join), a combining mark, an emoji.
const std::vector<std::string> kForeign{"Säbelschnäbler_øyvær.JPG", "Αβοκέτα.JPG", "סיקסק.JPG", "نكات.JPG",
                                        "Avoce\xcc\x81te.JPG",      "Gull🐦.JPG"};

// A photograph of the sample set: any JPEG will do for a thumbnail.
std::vector<std::uint8_t> some_jpeg() {
  for (const auto& entry : files::recursive_directory_iterator(BURSTSIEVE_SOURCE_DIR "/sample-bursts"))
    if (entry.path().extension() == ".JPG") {
      std::ifstream in(entry.path(), std::ios::binary);
      return {std::istreambuf_iterator<char>(in), {}};
    }
  return {};
}

FrameOutcome frame(const std::string& name, const std::vector<std::uint8_t>& thumbnail) {
  FrameOutcome f;
  FileRef file;
  file.path = "card/" + name;
  f.frame.jpeg = file;
  f.frame.capture.exposure_s = 1.0 / 2500;
  f.frame.capture.time_ms = 1'775'999'640'000;  // 2026-04-12 13:14 UTC (date -u -d @1775999640)
  f.frame.capture.utc_offset_minutes = 60;
  f.facts.decoded = true;
  f.facts.pixel_width = 6000;
  f.facts.pixel_height = 4000;
  f.facts.thumbnail = thumbnail;
  f.facts.subjects.push_back({{.4, .4, .2, .2}, Region{.45, .42, .04, .05}, .9, "detector"});
  f.verdict.verdict = Verdict::keep;
  f.verdict.rating = 4;
  f.verdict.pose = 1;
  f.verdict.place = 1;
  f.verdict.reasons.push_back({"soft", "subject soft: blur 2.40 px, limit 2.2 px", 2.4, "px", 2.2, .9});
  return f;
}

std::vector<report::SheetCrop> fake_crops(const std::vector<const FrameOutcome*>& frames,
                                          const std::vector<report::CropPlace>& places) {
  static const std::vector<std::uint8_t> jpeg = some_jpeg();
  std::vector<report::SheetCrop> out(frames.size());
  for (std::size_t i = 0; i < out.size(); ++i)
    if (!places[i].region.empty()) out[i] = {jpeg, 320, 240};
  return out;
}

std::string run_for(const std::string& command) {
  std::string out;
  FILE* pipe = ::popen((command + " 2>&1").c_str(), "r");
  REQUIRE(pipe != nullptr);
  char buffer[4096];
  for (std::size_t n; (n = std::fread(buffer, 1, sizeof buffer, pipe)) > 0;) out.append(buffer, n);
  CHECK(::pclose(pipe) == 0);
  return out;
}

std::size_t count_of(const std::string& text, const std::string& what) {
  std::size_t n = 0;
  for (auto at = text.find(what); at != std::string::npos; at = text.find(what, at + what.size())) ++n;
  return n;
}

// Empty when every element is closed in order and every attribute is quoted (the HTML standard's void
// elements apart, §13.1.2); else where it goes wrong. Stricter than browsers are.
std::string ill_formed(const std::string& page) {
  static const std::set<std::string> voids{"meta", "img", "br", "link", "!DOCTYPE"};
  std::vector<std::string> open;
  for (std::size_t at = page.find('<'); at != std::string::npos; at = page.find('<', at)) {
    std::size_t end = at + 1;
    bool quoted = false;
    while (end < page.size() && (quoted || page[end] != '>')) quoted ^= page[end++] == '"';
    if (end >= page.size()) return "no end: " + page.substr(at, 60);
    const std::string tag = page.substr(at + 1, end - at - 1);
    const std::string name = tag.substr(tag[0] == '/', tag.find_first_of(" \n/", 1) - (tag[0] == '/'));
    if (count_of(tag, "\"") % 2 || count_of(tag, "=") > 0 ? tag.find("=\"") == std::string::npos : false)
      return "attribute: " + tag;
    if (tag[0] == '/') {
      if (open.empty() || open.back() != name)
        return "closes " + name + " in " + (open.empty() ? "" : open.back());
      open.pop_back();
    } else if (!voids.count(name) && tag.back() != '/') {
      open.push_back(name);
    }
    at = end;
    if (name == "style" && tag[0] != '/') at = page.find("</style", end);
  }
  return open.empty() ? "" : "left open: " + open.back();
}

BurstOutcome burst_of(int number, const std::vector<std::string>& names,
                      const std::vector<std::uint8_t>& thumbnail) {
  BurstOutcome out{number, "Saltmarsh Optics <SO-1>", {}, false};
  for (const std::string& n : names) {
    out.frames.push_back(frame(n, thumbnail));
    out.frames.back().verdict.place = static_cast<int>(out.frames.size());
  }
  return out;
}

std::unique_ptr<SheetFolder> started(FileSystem& fs, const std::string& folder, SheetOptions options) {
  auto sheet = SheetFolder::start(fs, folder, std::move(options));
  REQUIRE(sheet);
  return std::move(*sheet);
}

}  // namespace

TEST_SUITE("report/sheet") {
  TEST_CASE("the crop is the head, the focus point or the detail, 320 x 240 px, inside the frame") {
    FrameOutcome f = frame("a.JPG", {});
    auto place = report::crop_place(f);
    CHECK(place.what == "head");
    CHECK(place.region.w * 6000 == doctest::Approx(320));
    CHECK(place.region.h * 4000 == doctest::Approx(240));
    CHECK(place.region.centre_x() == doctest::Approx(.47));
    CHECK(place.region.centre_y() == doctest::Approx(.445));
    f.facts.subjects[0].head = Region{.99, 0, .01, .01};
    place = report::crop_place(f);
    CHECK(place.region.right() == doctest::Approx(1));
    CHECK(place.region.y == 0);
    f.facts.subjects[0].head.reset();
    f.frame.capture.af = AfArea{{.5, .5, .02, .02}, .9, "AF"};
    CHECK(report::crop_place(f).what == "focus point");
    f.frame.capture.af->box = {.05, .05, .02, .02};  // beside the bird
    // The only detail of the tile lies at its upper left.
    f.facts.pose.tile.assign(64 * 64, 100);
    for (int i = 0; i < 10; ++i) f.facts.pose.tile[static_cast<std::size_t>((8 + i) * 64 + 8 + i)] = 200;
    place = report::crop_place(f);
    CHECK(place.what == "detail");
    CHECK(place.region.centre_x() < .47);
    CHECK(place.region.centre_y() < .47);
    CHECK(place.region.centre_x() > .38);
    f.facts.subjects.clear();
    CHECK(report::crop_place(f).what == "focus point");
    f.facts.pixel_width = 200;  // smaller than a crop
    f.facts.pixel_height = 100;
    CHECK((report::crop_place(f).region == Region{0, 0, 1, 1}));
    f.facts.decoded = false;
    CHECK(report::crop_place(f).region.empty());
  }

  TEST_CASE("pages: well-formed, every frame there, ranked, names harmless, pictures beside") {
    const test::TempFolder folder;
    RealFileSystem fs;
    SheetOptions options;
    options.title = "</title><script>alert(1)</script>";
    options.frames_per_page = 7;
    options.pdf = false;
    auto sheet = started(fs, folder.at("sheet"), options);
    const auto jpeg = some_jpeg();
    BurstOutcome first = burst_of(1, kHostile, jpeg);
    std::swap(first.frames[0].verdict.place, first.frames[6].verdict.place);
    first.frames[1].facts = {};  // damaged
    first.frames[2].sidecars.push_back({"x.xmp", "human", "<4>"});
    REQUIRE(sheet->add(first, fake_crops));
    REQUIRE(sheet->add(burst_of(2, kForeign, jpeg), fake_crops));
    REQUIRE(sheet->finish("debrief.html"));
    CHECK(sheet->frames() == 13);
    const std::string one = folder.read("sheet/page-001.html"), two = folder.read("sheet/page-002.html"),
                      index = folder.read("sheet/index.html");
    for (const std::string& page : {one, two, index}) {
      CHECK(ill_formed(page).empty());
      CHECK(ill_formed(page + "</p>") != "");
      CHECK(page.find("<script") == std::string::npos);
      CHECK(page.find("onerror=alert(1)>") == std::string::npos);
    }
    CHECK(count_of(one, "<article>") == 7);
    CHECK(count_of(two, "<article>") == 6);
    CHECK(count_of(one, "<img ") == 12);  // the damaged one has none
    CHECK(one.find("&lt;img src=x onerror=alert(1)&gt;.JPG") != std::string::npos);
    CHECK(one.find("zwei\\x0aZeilen\\x1b[31m.JPG") != std::string::npos);
    CHECK(one.find("\\xff\\xfe kein Text.JPG") != std::string::npos);
    CHECK(one.find("your own rating stands: &lt;4&gt;") != std::string::npos);
    CHECK(one.find("WWWW") < one.find("&lt;img src=x"));  // place 1 before place 7
    CHECK(one.find("Pose 1: best of 7") != std::string::npos);
    CHECK(one.find("subject soft: blur 2.40 px, limit 2.2 px") != std::string::npos);
    CHECK(one.find("head at 100 %") != std::string::npos);
    CHECK(one.find("2026-04-12 14:14:00") != std::string::npos);  // an hour ahead of UTC
    for (const std::string& name : kForeign) CHECK(two.find(name) != std::string::npos);
    CHECK(one.find("page-002.html") != std::string::npos);
    CHECK(two.find("page-001.html") != std::string::npos);
    CHECK(two.find("page-003.html") == std::string::npos);
    CHECK(index.find("debrief.html") != std::string::npos);
    CHECK(index.find("page-002.html#burst-2") != std::string::npos);
    CHECK(folder.read("sheet/pictures/002/000008-whole.jpg").size() == jpeg.size());
    CHECK(files::exists(folder.at("sheet/pictures/001/000001-close.jpg")));
  }

  TEST_CASE("only the verdicts asked for, and a burst that says how many it had") {
    const test::TempFolder folder;
    RealFileSystem fs;
    SheetOptions options;
    options.only = {Verdict::reject};
    options.pdf = false;
    auto sheet = started(fs, folder.at("sheet"), options);
    BurstOutcome b = burst_of(1, {"a.JPG", "b.JPG", "c.JPG"}, {});
    b.frames[1].verdict.verdict = Verdict::reject;
    REQUIRE(sheet->add(b, {}));
    REQUIRE(sheet->add(burst_of(2, {"d.JPG"}, {}), {}));
    REQUIRE(sheet->finish(""));
    CHECK(sheet->frames() == 1);
    const std::string page = folder.read("sheet/page-001.html");
    CHECK(page.find("b.JPG") != std::string::npos);
    CHECK(page.find("a.JPG") == std::string::npos);
    CHECK(page.find("3 frames, 1 of them here") != std::string::npos);
    CHECK(folder.read("sheet/index.html").find("1 frame in 1 burst") != std::string::npos);
  }

  TEST_CASE("an older sheet is replaced, anything else is left alone") {
    const test::TempFolder folder;
    RealFileSystem fs;
    SheetOptions options;
    options.pdf = false;
    options.frames_per_page = 1;
    for (const int bursts : {3, 1}) {
      auto sheet = started(fs, folder.at("sheet"), options);
      for (int b = 1; b <= bursts; ++b) REQUIRE(sheet->add(burst_of(b, {"a.JPG"}, some_jpeg()), {}));
      if (bursts == 3) folder.write("sheet/mine.txt", "keep");
      REQUIRE(sheet->finish(""));
    }
    CHECK(files::exists(folder.at("sheet/page-001.html")));
    CHECK_FALSE(files::exists(folder.at("sheet/page-002.html")));
    CHECK_FALSE(files::exists(folder.at("sheet/pictures/003/000003-whole.jpg")));
    CHECK(folder.read("sheet/mine.txt") == "keep");
    // An interrupted one can be made again.
    { const auto interrupted = started(fs, folder.at("begun"), options); }
    CHECK(SheetFolder::start(fs, folder.at("begun"), options));

    files::create_directory(folder.at("photographs"));
    folder.write("photographs/index.html", "<!DOCTYPE html><title>Contact sheet: mine</title>");
    CHECK_FALSE(SheetFolder::start(fs, folder.at("photographs"), options));
    files::create_directory(folder.at("card"));
    folder.write("card/BSG_0001.JPG", "x");
    const auto refused = SheetFolder::start(fs, folder.at("card"), options);
    REQUIRE_FALSE(refused);
    CHECK(refused.error().text.find("name another") != std::string::npos);
    CHECK_FALSE(SheetFolder::start(fs, folder.at("card/BSG_0001.JPG"), options));
    CHECK(folder.read("card/BSG_0001.JPG") == "x");
    CHECK_FALSE(report::write_own_page(fs, folder.at("card/BSG_0001.JPG"), "page", "Debrief: "));
    CHECK(folder.read("card/BSG_0001.JPG") == "x");
  }

  // ISO 216: A4 is 210 x 297 mm, 595.28 x 841.89 points of 1/72 inch; Letter 8.5 x 11 inch, 612 x 792.
  TEST_CASE("the PDF: paper sizes, pages, names in any script, reasons, JPEGs as they are") {
    const test::TempFolder folder;
    RealFileSystem fs;
    const auto jpeg = some_jpeg();
    // BURSTSIEVE_KEEP_PDF: where to leave the PDFs, to look at them.
    for (const auto& [paper, size] : {std::pair{report::Paper::a4, "595.276 x 841.89 pts (A4)"},
                                      std::pair{report::Paper::letter, "612 x 792 pts (letter)"}}) {
      SheetOptions options;
      options.title = "Salzwiese & Håfen";
      options.written = "2026-11-25 21:34";
      options.paper = paper;
      auto sheet = started(fs, folder.at("sheet"), options);
      BurstOutcome hostile = burst_of(1, kHostile, jpeg);
      for (FrameOutcome& f : hostile.frames)
        for (int i = 0; i < 9; ++i)
          f.verdict.reasons.push_back({"soft", std::string(200, 'm'), 1, "", 1, .3});
      REQUIRE(sheet->add(hostile, fake_crops));
      REQUIRE(sheet->add(burst_of(2, kForeign, jpeg), fake_crops));
      REQUIRE(sheet->finish(""));
      if (const char* keep = std::getenv("BURSTSIEVE_KEEP_PDF"))
        files::copy_file(folder.at("sheet/sheet.pdf"),
                         std::string(keep) + (paper == report::Paper::a4 ? "/a4.pdf" : "/letter.pdf"),
                         files::copy_options::overwrite_existing);
      const std::string info = run_for("pdfinfo '" + folder.at("sheet/sheet.pdf") + "'");
      CHECK(info.find(size) != std::string::npos);
      CHECK(info.find("Pages:           " + std::to_string(sheet->paper_pages()) + "\n") !=
            std::string::npos);
      CHECK(info.find("Salzwiese & Håfen") != std::string::npos);
      const std::string text = run_for("pdftotext '" + folder.at("sheet/sheet.pdf") + "' -");
      for (const char* word :
           {"Säbelschnäbler_øyvær.JPG", "Αβοκέτα.JPG", "סיקסק", "نكات", "<img src=x", "Burst 2",
            "subject soft: blur 2.40 px, limit 2.2 px", "head at 100 %", "undecided"})
        CHECK_MESSAGE(text.find(word) != std::string::npos, std::string(word));
      // Two JPEGs per frame, passed through; the PDF is hardly larger than they are.
      const std::string images = run_for("pdfimages -list '" + folder.at("sheet/sheet.pdf") + "'");
      CHECK(count_of(images, " jpeg ") == 26);
      CHECK(count_of(images, "image") == 26);
      CHECK(files::file_size(folder.at("sheet/sheet.pdf")) < 26 * jpeg.size() + 150'000);
      // Nothing is drawn beyond the margins of 12 mm, 34.0 points.
      const std::string boxes = run_for("pdftotext -bbox '" + folder.at("sheet/sheet.pdf") + "' -");
      const double right = paper == report::Paper::a4 ? 595.276 - 33.9 : 612 - 33.9;
      std::size_t words = 0;
      for (auto at = boxes.find("xMax=\""); at != std::string::npos; at = boxes.find("xMax=\"", at + 1)) {
        CHECK(std::stod(boxes.substr(at + 6)) < right);
        ++words;
      }
      CHECK(words > 100);
      CHECK_FALSE(files::exists(folder.at("sheet/sheet.pdf.part")));
    }
  }

  // For a shoot of 10,000 frames: 20 pages, each of a size that a browser opens at once.
  TEST_CASE("10,000 frames make pages of bounded size") {
    const test::TempFolder folder(test::in_memory());
    RealFileSystem fs;
    SheetOptions options;
    options.pdf = false;
    auto sheet = started(fs, folder.at("sheet"), options);
    for (int b = 0; b < 500; ++b) {
      std::vector<std::string> names;
      for (int i = 0; i < 20; ++i) names.push_back("BSG_" + std::to_string(b * 20 + i) + ".JPG");
      REQUIRE(sheet->add(burst_of(b + 1, names, {0xFF, 0xD8, 0xFF, 0xD9}), {}));
    }
    REQUIRE(sheet->finish(""));
    CHECK(sheet->frames() == 10'000);
    std::size_t pages = 0;
    for (const auto& entry : files::directory_iterator(folder.at("sheet"))) {
      if (!entry.is_regular_file()) continue;
      pages += entry.path().filename().string().starts_with("page-");
      CHECK(entry.file_size() < 1'000'000);
    }
    CHECK(pages == 20);
    CHECK(files::exists(folder.at("sheet/pictures/020/010000-whole.jpg")));
    CHECK(folder.read("sheet/page-020.html").find("BSG_9999.JPG") != std::string::npos);
  }
}
