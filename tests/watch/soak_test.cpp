// The real `burstsieve watch` over a folder that fills in the worst ways, killed again and again. In the end
// nothing is missed, and the sidecars are those of one plain `cull` over what is left, byte for byte.
// 400 files in the ordinary run; BURSTSIEVE_SOAK=5000 for the long one.
#include <doctest/doctest.h>

#include <chrono>
#include <filesystem>
#include <opencv2/imgproc.hpp>
#include <random>
#include <set>
#include <thread>

#include "base/temp_folder.h"
#include "burstsieve/base/file_system.h"
#include "burstsieve/base/version.h"
#include "burstsieve/catalog/catalog.h"
#include "burstsieve/sidecar/restore.h"
#include "burstsieve/watch/state.h"
#include "burstsieve/watch/summary.h"
#include "files.h"
#include "watch/process.h"

using namespace burstsieve;
using test::Process;
namespace stdfs = std::filesystem;

namespace {

void sleep_ms(int ms) {
  std::this_thread::sleep_for(std::chrono::milliseconds(ms));
}

// Four shapes on a plain ground, sharp to soft.
std::vector<cv::Mat3b> pictures() {
  std::vector<cv::Mat3b> out;
  for (int i = 0; i < 4; ++i) {
    cv::Mat3b p(128, 192, cv::Vec3b(120, 110, 90));
    cv::ellipse(p, {90 + 6 * i, 60}, {34, 15 + 2 * i}, 20.0 * i, 0, 360, {235, 235, 235}, -1, cv::LINE_AA);
    cv::ellipse(p, {70, 64}, {18, 8}, 70, 0, 360, {60, 60, 70}, -1, cv::LINE_AA);
    cv::GaussianBlur(p, p, {}, .5 + .9 * i);
    out.push_back(p);
  }
  return out;
}

struct Arrival {
  std::string name;
  std::string bytes;
  unsigned way = 0;
};

std::vector<Arrival> shoot(std::size_t count, std::mt19937& random) {
  const auto all = pictures();
  std::vector<Arrival> out;
  std::int64_t time = 1'776'000'000'000;
  for (std::size_t i = 0; i < count; ++i) {
    time += i % 6 == 0 ? 30'000 : 100;
    generate::Exif exif;
    exif.local_time_ms = time;
    exif.width = 192;
    exif.height = 128;
    const ByteBuffer jpeg = generate::encode_jpeg(all[random() % all.size()], {80, false}, &exif);
    char name[40];
    std::snprintf(name, sizeof name, "%zuSALTM/BSG_%04zu.JPG", 100 + i / 900, i % 900 + 1);
    out.push_back({name, std::string(jpeg.begin(), jpeg.end()), static_cast<unsigned>(random() % 20)});
  }
  std::shuffle(out.begin(), out.end(), random);
  return out;
}

// Brings the files in, and goes on disturbing what is there.
class Tide {
 public:
  Tide(const test::TempFolder& folder, std::mt19937& random) : folder_(folder), random_(random) {}

  void bring(const Arrival& a) {
    const std::string in = "in/" + a.name;
    const std::size_t half = a.bytes.size() / 2;
    if (a.way < 8) {
      folder_.write(in, a.bytes);
      there_.push_back(in);
    } else if (a.way < 12) {  // in two pieces, a while apart
      folder_.write(in, a.bytes.substr(0, half));
      unfinished_.push_back({in, a.bytes});
    } else if (a.way < 16) {  // under another name until it is whole
      const std::string temporary = in + (a.way < 14 ? ".part" : "~");
      folder_.write(temporary, a.bytes.substr(0, half));
      renamed_.push_back({temporary, in, a.bytes});
    } else {
      folder_.write(in, a.bytes);
      if (a.way < 18)
        doomed_.push_back(in);
      else
        renamed_.push_back({in, in.substr(0, in.size() - 4) + "_B.JPG", a.bytes});
    }
    if (random_() % 4 == 0) stir();
  }

  void stir() {
    if (!unfinished_.empty()) {
      folder_.write(unfinished_.front().first, unfinished_.front().second);
      there_.push_back(unfinished_.front().first);
      unfinished_.erase(unfinished_.begin());
    }
    if (!renamed_.empty() && random_() % 2) {
      auto& r = renamed_.front();
      folder_.write(r.from, r.bytes);
      stdfs::rename(folder_.at(r.from), folder_.at(r.to));
      there_.push_back(r.to);
      renamed_.erase(renamed_.begin());
    }
    if (!doomed_.empty() && random_() % 2) {
      stdfs::remove(folder_.at(doomed_.front()));
      doomed_.erase(doomed_.begin());
    }
  }
  bool done() const { return unfinished_.empty() && renamed_.empty() && doomed_.empty(); }
  const std::vector<std::string>& there() const { return there_; }

 private:
  struct Renaming {
    std::string from, to, bytes;
  };
  const test::TempFolder& folder_;
  std::mt19937& random_;
  std::vector<std::string> there_, doomed_;
  std::vector<std::pair<std::string, std::string>> unfinished_;
  std::vector<Renaming> renamed_;
};

std::vector<std::string> watch_arguments(const test::TempFolder& folder) {
  return {"watch",  "--quiet", "--settle",   ".2", "--quiet-time", ".5",
          "--poll", ".2",      "--patience", "1",  "--nice",       "0",
          "--disk", "normal",  "-j",         "2",  folder.at("in")};
}

std::size_t without_sidecar(const test::TempFolder& folder, const std::vector<std::string>& files) {
  return static_cast<std::size_t>(std::count_if(files.begin(), files.end(), [&](const std::string& f) {
    return !stdfs::exists(folder.at(f + ".xmp"));
  }));
}

// All that burstsieve knows and wrote, to see whether anything moves.
std::string fingerprint(const test::TempFolder& folder) {
  std::string out;
  const auto state = watch::Ledger::read(folder.at("home/.local/state/burstsieve"),
                                         stdfs::canonical(folder.at("in")).string());
  out = std::to_string(state ? state->size() : 0) + " ";
  for (const auto& e : stdfs::recursive_directory_iterator(folder.at("in")))
    if (e.path().extension() == ".xmp") {
      std::error_code gone;
      out += std::to_string(e.last_write_time(gone).time_since_epoch().count() % 1'000'003) + " ";
    }
  return out;
}

void wait_until_still(const test::TempFolder& folder, const std::vector<std::string>& files) {
  std::string before;
  int same = 0;
  for (int i = 0; i < 600 && same < 10; ++i) {
    sleep_ms(300);
    const std::string now = fingerprint(folder);
    same = now == before && without_sidecar(folder, files) == 0 ? same + 1 : 0;
    before = now;
  }
}

// No entry of the journal put the very bytes there that stood there before.
std::size_t needless_writes(Catalog& catalog) {
  std::size_t out = 0;
  for (const Run& run : catalog.runs()) {
    std::int64_t below = 1'000'000;
    for (;;) {
      const auto entry = catalog.change_before(run.id, below);
      REQUIRE(bool(entry));
      if (!*entry) break;
      below = (*entry)->sequence;
      out += (*entry)->done && (*entry)->before && contents_sum(*(*entry)->before) == (*entry)->wrote;
    }
  }
  return out;
}

}  // namespace

TEST_SUITE("watch/soak") {
  TEST_CASE("killed and restarted while files arrive in every order and shape") {
    const char* wanted = std::getenv("BURSTSIEVE_SOAK");
    const std::size_t count = wanted ? std::strtoul(wanted, nullptr, 10) : 400;
    std::mt19937 random(20261125);
    test::TempFolder folder;
    stdfs::create_directories(folder.at("home"));
    const auto arrivals = shoot(count, random);
    for (const Arrival& a : arrivals)
      stdfs::create_directories(stdfs::path(folder.at("in/" + a.name)).parent_path());
    Tide tide(folder, random);
    auto watching = std::make_unique<Process>(folder.at("home"), watch_arguments(folder));
    const std::size_t rests = count > 1000 ? 14 : 4, kill_every = count / (2 * rests);
    for (std::size_t i = 0; i < arrivals.size(); ++i) {
      tide.bring(arrivals[i]);
      if (random() % 8 == 0) sleep_ms(static_cast<int>(random() % 60));
      if (random() % (count / rests) == 0) sleep_ms(1500);  // long enough for a pass
      if (i % kill_every != kill_every / 2) continue;
      sleep_ms(static_cast<int>(random() % 900));
      CHECK(watching->end(SIGKILL) == -SIGKILL);
      watching = std::make_unique<Process>(folder.at("home"), watch_arguments(folder));
    }
    while (!tide.done()) {
      tide.stir();
      sleep_ms(1);
    }
    const std::vector<std::string>& files = tide.there();
    wait_until_still(folder, files);
    CHECK(without_sidecar(folder, files) == 0);
    CHECK(watching->end(SIGTERM) == 4);  // as a stopped cull

    // A restart finds nothing to do.
    const std::string settled = fingerprint(folder);
    watching = std::make_unique<Process>(folder.at("home"), watch_arguments(folder));
    sleep_ms(2500);
    CHECK(watching->end(SIGTERM) == 4);
    CHECK((fingerprint(folder) == settled));

    // The same photographs, in one plain run, with a home of its own.
    stdfs::create_directories(folder.at("plain-home"));
    for (const std::string& f : files) {
      const stdfs::path to = folder.at("plain/" + f.substr(3));
      stdfs::create_directories(to.parent_path());
      stdfs::copy_file(folder.at(f), to);
    }
    CHECK(test::run(folder.at("plain-home"), {"cull", "--json", "-q", folder.at("plain")}) == 0);
    std::size_t different = 0;
    for (const std::string& f : files)
      different += folder.read(f + ".xmp") != folder.read("plain/" + f.substr(3) + ".xmp");
    CHECK(different == 0);

    // What the summary would tell adds up with what is there.
    const std::string state = folder.at("home/.local/state/burstsieve");
    const auto lines = watch::Ledger::read(state, stdfs::canonical(folder.at("in")).string());
    REQUIRE(bool(lines));
    const auto news = watch::news_of(*lines, 0);
    CHECK(news.counts.frames == files.size());
    CHECK(news.counts.keep + news.counts.reject + news.counts.undecided == files.size());
    for (std::size_t i = 0; i < std::min<std::size_t>(news.failures.size(), 5); ++i)
      MESSAGE(news.failures[i].file << ": " << news.failures[i].reason);
    CHECK(news.failures.empty());
    auto plain =
        Catalog::open(folder.at("plain-home/.local/share/burstsieve/catalog.sqlite"), kEngineVersion);
    REQUIRE(bool(plain));
    CHECK(static_cast<std::size_t>(plain->runs().front().counts.keeps) == news.counts.keep);
    CHECK(static_cast<std::size_t>(plain->runs().front().counts.rejects) == news.counts.reject);
    auto catalog = Catalog::open(folder.at("home/.local/share/burstsieve/catalog.sqlite"), kEngineVersion);
    REQUIRE(bool(catalog));
    CHECK(needless_writes(*catalog) == 0);
    CHECK(stdfs::is_empty(folder.at("in/100SALTM")) == false);
    MESSAGE(count << " files, " << catalog->runs().size() << " runs, " << lines->size() << " ledger lines");
  }
}
