// Decisions and sidecars, without a network: what is written, what stands, what the next run makes of it.
#include "burstsieve/serve/review.h"

#include <doctest/doctest.h>

#include <nlohmann/json.hpp>

#include "burstsieve/base/version.h"
#include "burstsieve/pipeline/undo.h"
#include "burstsieve/sidecar/merge.h"
#include "pipeline/sample.h"

using namespace burstsieve;
using burstsieve::test::TempFolder;
namespace stdfs = std::filesystem;
using nlohmann::json;

namespace {

struct Gathered : pipeline::Listener {
  void found(const ScanCounts&, std::size_t, std::size_t) override {}
  void progress(std::size_t, std::size_t) override {}
  void burst(const BurstOutcome& b) override { shoot.add(b); }
  void error(const Error& e) override { errors.push_back(e); }
  serve::Shoot shoot;
  std::vector<Error> errors;
};

// Five frames of the samples, a catalogue, and a review that can be closed and opened again.
struct Desk {
  Desk() {
    stdfs::create_directories(folder.at("DCIM"));
    for (const char* name : {"BSG_9995.JPG", "BSG_9996.JPG", "BSG_9997.JPG", "BSG_9998.JPG", "BSG_9999.JPG"})
      stdfs::copy(test::sample_source() + "/DCIM/100SALTM/" + name, folder.at("DCIM/") + name);
    open();
  }
  void open() {
    review.reset();
    catalog.reset();
    auto opened = Catalog::open(folder.at("catalog.sqlite"), kEngineVersion);
    REQUIRE(opened);
    catalog = std::make_unique<Catalog>(std::move(*opened));
    options.places = {folder.at("DCIM")};
    options.dry_run = true;
    Gathered run;
    REQUIRE(pipeline::cull(options, *catalog, fs, clock, run));
    auto made = serve::Review::open(std::move(run.shoot), options, *catalog, fs, clock);
    REQUIRE(made);
    review = std::move(*made);
  }
  // A run as `cull` does it.
  RunSummary cull() {
    pipeline::CullOptions o = options;
    o.dry_run = false;
    Gathered run;
    auto s = pipeline::cull(o, *catalog, fs, clock, run);
    REQUIRE(s);
    return *s;
  }
  json decide(std::uint32_t frame, const std::string& verdict, int rating = 0) {
    json body{{"frames", {frame}}, {"verdict", verdict}};
    if (rating) body["rating"] = rating;
    const auto reply = review->decide(body.dump());
    REQUIRE(reply.status == 200);
    return json::parse(reply.body);
  }
  json done(const std::string& body = "") {
    const auto reply = review->done(body);
    REQUIRE(reply.status == 200);
    return json::parse(reply.body);
  }
  std::string sidecar_name(std::uint32_t frame) const {
    return review->shoot().frame(frame).frame.main().path + ".xmp";
  }
  std::string sidecar(std::uint32_t frame) const {
    std::ifstream in(sidecar_name(frame), std::ios::binary);
    return {std::istreambuf_iterator<char>(in), {}};
  }
  SidecarRecord record(std::uint32_t frame) const {
    const std::string text = sidecar(frame);
    auto r = read_record(Bytes(reinterpret_cast<const std::uint8_t*>(text.data()), text.size()));
    REQUIRE(r);
    return *r;
  }
  // As another program does it.
  void rate_elsewhere(std::uint32_t frame, const std::string& rating) const {
    std::ofstream(sidecar_name(frame), std::ios::binary)
        << "<x:xmpmeta xmlns:x=\"adobe:ns:meta/\"><rdf:RDF "
           "xmlns:rdf=\"http://www.w3.org/1999/02/22-rdf-syntax-ns#\"><rdf:Description rdf:about=\"\" "
           "xmlns:xmp=\"http://ns.adobe.com/xap/1.0/\" xmp:Rating=\""
        << rating << "\"/></rdf:RDF></x:xmpmeta>";
  }
  std::optional<int> ours(std::uint32_t frame) const { return review->shoot().frame(frame).verdict.rating; }
  // A rating that is not ours.
  int other(std::uint32_t frame) const { return ours(frame) == 2 ? 3 : 2; }

  TempFolder folder;
  RealFileSystem fs;
  ManualClock clock{1'790'000'000'000};
  pipeline::CullOptions options;
  std::unique_ptr<Catalog> catalog;
  std::unique_ptr<serve::Review> review;
};

}  // namespace

TEST_SUITE("serve/review") {
  TEST_CASE("the shoot: every frame and pose, valid JSON, no path, numbers as the run has them") {
    Desk d;
    const auto reply = d.review->shoot_reply();
    const json j = json::parse(reply.body);
    REQUIRE(j["frames"].size() == 5);
    CHECK(reply.body.find(d.folder.path + "/DCIM/") == std::string::npos);
    std::size_t in_poses = 0;
    for (const json& b : j["bursts"])
      for (const json& p : b["poses"]) in_poses += p["frames"].size();
    CHECK(in_poses == 5);
    for (std::uint32_t id = 1; id <= 5; ++id) {
      const json& f = j["frames"][id - 1];
      const FrameOutcome& o = d.review->shoot().frame(id);
      CHECK(f["id"] == id);
      CHECK(f["name"] == leaf_of(o.frame.main().path));
      CHECK(f["verdict"] == name_of(o.verdict.verdict));
      CHECK(f["width"] == o.facts.pixel_width);
      CHECK(f["mine"].is_null());
      CHECK(f["sidecar"].is_null());
      if (const Measure* blur = find(o.facts.measures, "blur_sigma_px"))
        CHECK(f["blur"].get<double>() == doctest::Approx(blur->value).epsilon(.001));
      const auto whole = d.review->frame_reply(id);
      CHECK(whole.body.find(d.folder.path) == std::string::npos);
      const json w = json::parse(whole.body);
      CHECK(w["reasons"].size() == o.verdict.reasons.size());
      CHECK(w["measures"].size() >= 5);
    }
    CHECK(json::parse(d.review->series_reply(1).body)["frames"].size() ==
          d.review->shoot().outcomes()[0].frames.size());
    CHECK(d.review->frame_reply(0).status == 404);
    CHECK(d.review->frame_reply(6).status == 404);
    CHECK(d.review->series_reply(99).status == 404);
  }

  TEST_CASE("decided, closed, opened again: it is all there, undo included") {
    Desk d;
    d.decide(1, "keep", 5);
    d.decide(2, "reject");
    d.open();
    json j = json::parse(d.review->shoot_reply().body);
    CHECK(j["revision"] == 2);
    CHECK(j["frames"][0]["mine"] == json{{"verdict", "keep"}, {"rating", 5}});
    CHECK(j["frames"][1]["mine"]["verdict"] == "reject");
    const json undone = json::parse(d.review->undo().body);
    CHECK(undone["changed"] == json::parse(R"([{"id":2,"mine":null}])"));
    CHECK(undone["what"] == "undo: reject: 1 frame");
    d.open();
    j = json::parse(d.review->shoot_reply().body);
    CHECK(j["frames"][1]["mine"].is_null());
    CHECK(j["can_redo"] == true);
    CHECK(json::parse(d.review->redo().body)["changed"][0]["mine"]["verdict"] == "reject");
    CHECK(d.review->redo().status == 409);
    CHECK(json::parse(d.review->changes_reply(3).body)["changed"].size() == 1);
    CHECK(d.review->changes_reply(5).status == 410);
  }

  TEST_CASE(
      "done: the photographer's word stands as theirs, ours as ours; undo takes it back; cull respects it") {
    Desk d;
    const int stars = d.other(1);
    d.decide(1, "keep", stars);
    d.decide(2, "reject");
    d.decide(3, "undecided");
    if (d.ours(4)) d.decide(4, *d.ours(4) < 0 ? "reject" : "keep");  // as we say ourselves
    CHECK(d.review->unwritten() >= 3);
    const json j = d.done();
    CHECK(j["created"] == 5);
    CHECK(j["failed"].empty());
    CHECK(d.review->unwritten() == 0);
    const auto first = d.record(1);
    CHECK(first.rating == std::to_string(stars));
    REQUIRE(first.human);
    CHECK(first.human->ours == d.ours(1));
    CHECK(d.record(2).rating == "-1");
    CHECK(d.record(3).rating == "");
    CHECK(d.record(3).human.has_value() == d.ours(3).has_value());
    if (d.ours(4)) CHECK(d.record(4).human);  // agreeing is a word, too
    CHECK(!d.record(5).human);
    CHECK(d.record(5).written_rating == d.ours(5));
    bool learnt = false;
    for (const Override& o : d.catalog->overrides())
      learnt = learnt || (o.path == d.review->shoot().frame(1).frame.main().path && o.human == stars);
    CHECK(learnt);
    // Nothing changes by saying it twice, nor by another run.
    CHECK(d.done()["unchanged"] == 5);
    const std::string before = d.sidecar(1) + d.sidecar(2) + d.sidecar(3);
    d.cull();
    CHECK(d.sidecar(1) + d.sidecar(2) + d.sidecar(3) == before);
    d.open();
    const json shoot = json::parse(d.review->shoot_reply().body);
    CHECK(shoot["frames"][0]["sidecar"] == std::to_string(stars));
    CHECK(d.review->unwritten() == 0);
    // What the review wrote, undo takes back.
    const auto undone = pipeline::undo({}, *d.catalog, d.fs, [](const Error&) {});
    REQUIRE(undone);
    CHECK(undone->removed == 5);
    CHECK(!stdfs::exists(d.sidecar_name(1)));
  }

  TEST_CASE("another mind, later: the review may replace what it wrote, and take it back to ours") {
    Desk d;
    d.decide(1, "keep", d.other(1));
    d.done();
    d.open();
    d.decide(1, "reject");
    CHECK(d.done()["updated"] == 1);
    CHECK(d.record(1).rating == "-1");
    d.review->undo();
    d.review->undo();
    CHECK(!json::parse(d.review->shoot_reply().body)["frames"][0]["mine"].is_object());
    CHECK(d.done()["updated"] == 1);
    CHECK(!d.record(1).human);
    CHECK(d.record(1).written_rating == d.ours(1));
  }

  TEST_CASE("a rating that another program wrote meanwhile stands, until the photographer has seen it") {
    Desk d;
    d.decide(1, "keep", 2);
    d.decide(2, "keep", 2);
    d.rate_elsewhere(1, "4");
    d.rate_elsewhere(2, "2");  // the same word
    d.rate_elsewhere(3, "5");  // nobody decided here
    const std::string theirs = d.sidecar(1), same = d.sidecar(2), other = d.sidecar(3);
    const json j = d.done();
    REQUIRE(j["failed"].size() == 1);
    CHECK(j["failed"][0]["id"] == 1);
    CHECK(j["failed"][0]["why"].get<std::string>().find("rating to 4") != std::string::npos);
    CHECK(d.sidecar(1) == theirs);
    CHECK(d.sidecar(2) == same);
    CHECK(d.sidecar(3) == other);
    CHECK(d.review->unwritten() == 1);
    // Also after a restart: the decision is older than the rating.
    d.open();
    CHECK(json::parse(d.review->shoot_reply().body)["frames"][0]["sidecar"] == "4");
    CHECK(d.done()["failed"].size() == 1);
    d.decide(1, "keep", 3);
    CHECK(d.done()["failed"].empty());
    CHECK(d.record(1).rating == "3");
  }

  TEST_CASE("only mine: frames that nobody decided on get no sidecar") {
    Desk d;
    d.decide(2, "keep", 3);
    CHECK(d.done(R"({"only":"mine"})")["created"] == 1);
    CHECK(stdfs::exists(d.sidecar_name(2)));
    CHECK(!stdfs::exists(d.sidecar_name(1)));
    CHECK(d.review->done(R"({"only":"yours"})").status == 400);
    CHECK(d.review->done("[1]").status == 400);
    CHECK(d.review->decide(R"({"frames":[9],"verdict":"keep"})").status == 400);
  }

  TEST_CASE("a photograph of the same name gets no old decision") {
    Desk d;
    for (std::uint32_t id = 1; id <= 5; ++id) d.decide(id, "reject");
    const std::string path = d.folder.at("DCIM/BSG_9997.JPG");
    stdfs::copy(test::sample_source() + "/DCIM/101SALTM/BSG_0014.JPG", path,
                stdfs::copy_options::overwrite_existing);
    d.open();
    std::size_t others = 0;
    const json shoot = json::parse(d.review->shoot_reply().body);
    for (const json& f : shoot["frames"]) {
      if (f["name"] == "BSG_9997.JPG")
        CHECK(f["mine"].is_null());
      else
        others += f["mine"].is_object();
    }
    CHECK(others == 4);
  }

  TEST_CASE("a sidecar that can't be read or written is named, with the reason; the others are written") {
    Desk d;
    std::ofstream(d.sidecar_name(1)) << "<x:xmpmeta xmlns:x=\"adobe:ns:meta/\"><rdf:RDF";
    d.decide(1, "keep", 3);
    d.decide(2, "keep", 3);
    stdfs::remove(d.review->shoot().frame(3).frame.main().path);
    const json j = d.done();
    REQUIRE(j["failed"].size() == 2);
    CHECK(j["failed"][0]["id"] == 1);
    CHECK(j["failed"][0]["why"] != "its sidecar could not be written");
    CHECK(j["failed"][1]["id"] == 3);
    CHECK(j["failed"][1]["why"].get<std::string>().find("gone") != std::string::npos);
    CHECK(j["created"] == 3);
    CHECK(d.record(2).rating == "3");
    CHECK(d.review->unwritten() == 1);
  }
}
