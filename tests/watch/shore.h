// Invented files, a clock, and a stand-in for pipeline::cull() that forms bursts as the real one does and
// measures nothing.
#pragma once
#include <algorithm>
#include <map>
#include <random>
#include <set>
#include <string>
#include <vector>

#include "burstsieve/base/clock.h"
#include "burstsieve/base/file_system.h"
#include "burstsieve/group/bursts.h"
#include "burstsieve/group/pairs.h"
#include "burstsieve/watch/tracker.h"

namespace burstsieve::test {

struct Shot {
  std::uint64_t size = 1000, fingerprint = 0;
  std::int64_t mtime_ns = 1;
  std::int64_t time_ms = 0;
  std::string camera = "cam";  // empty: no photograph
  std::uint32_t sequence = 0;
};

class Shore {
 public:
  ManualClock clock;
  std::map<std::string, Shot> files;
  std::set<std::string> unreadable;  // folders
  std::set<std::string> damaged, locked;
  std::vector<std::string> opened;
  std::size_t tried = 0;           // passes begun
  std::set<std::string> standing;  // bursts as last told: paths joined
  watch::Tracker tracker{{}, {}};

  void put(const std::string& path, std::int64_t time_ms, const std::string& camera = "cam",
           std::uint32_t sequence = 0) {
    ++fingerprint_;
    files[path] = {1000, fingerprint_, static_cast<std::int64_t>(fingerprint_), time_ms, camera, sequence};
  }
  void rename(const std::string& from, const std::string& to) {
    files[to] = files.at(from);
    files.erase(from);
  }

  void look() {
    watch::Listing l;
    for (const auto& [path, shot] : files) {
      const bool hidden = std::any_of(unreadable.begin(), unreadable.end(),
                                      [&p = path](const std::string& u) { return p.starts_with(u + "/"); });
      if (!hidden) l.files.push_back({path, shot.size, shot.mtime_ns});
    }
    for (const std::string& u : unreadable) l.errors.push_back({Cause::io, u, "gone"});
    tracker.observe(l, clock.steady_ms());
  }
  void settle() {
    look();
    clock.advance(20000);
    look();
  }
  std::optional<watch::FileState> state(const std::string& path) const {
    return tracker.state_of(path, const_cast<ManualClock&>(clock).steady_ms());
  }
  std::set<std::string> opened_names() const {
    std::set<std::string> out;
    for (const std::string& p : opened) out.insert(leaf_of(p).substr(0, leaf_of(p).rfind('.')));
    return out;
  }

  // One pass; the bursts culled, as names with '+' for a pair.
  std::vector<std::string> pass(bool hurry = false) {
    std::vector<std::string> out;
    if (!tracker.begin_pass(clock.steady_ms(), hurry)) return out;
    ++tried;
    do round(out);
    while (tracker.end_pass(clock.steady_ms(), true));
    return out;
  }

  // The bursts of a plain run over everything there.
  std::set<std::string> plain() const {
    std::set<std::string> out;
    for (const Burst& b : bursts_of([](const std::string&, const Shot&) { return true; }))
      out.insert(joined(b));
    return out;
  }

  // Random arrivals, changes, deletions and renames, with passes in between; ends settled.
  void play(unsigned seed) {
    std::mt19937 random(seed);
    const auto pick = [&](unsigned n) { return static_cast<unsigned>(random() % n); };
    for (int step = 0; step < 40; ++step) {
      const std::string folder = "/in/" + std::string(1, static_cast<char>('a' + pick(3))) + "/";
      const std::string stem = "A_00" + std::to_string(10 + pick(60));
      const std::string camera = pick(4) ? "cam" : "other";
      const std::int64_t time = 300 * pick(200);
      switch (pick(8)) {
        case 0:
          if (!files.empty())
            files.erase(std::next(files.begin(), pick(static_cast<unsigned>(files.size()))));
          break;
        case 1:
          if (!files.empty()) {
            const std::string from =
                std::next(files.begin(), pick(static_cast<unsigned>(files.size())))->first;
            rename(from, folder + "R_" + std::to_string(step) + ".JPG");
          }
          break;
        case 2:
          put(folder + stem + ".NEF", time, camera);
          break;
        case 3:  // a partner for some raw
          for (const auto& [path, shot] : std::map(files))
            if (path.ends_with(".NEF")) {
              put((pick(2) ? folder_of(path) + "/" : folder) + leaf_of(path).substr(0, 6) + ".JPG",
                  shot.time_ms, shot.camera);
              break;
            }
          break;
        case 4:
          if (!files.empty()) {
            const Shot copy = std::next(files.begin(), pick(static_cast<unsigned>(files.size())))->second;
            files[folder + "C_" + std::to_string(step) + ".JPG"] = copy;
          }
          break;
        default:
          put(folder + stem + ".JPG", time, camera, pick(3) ? 0 : 1 + pick(3));
      }
      if (pick(3) == 0) {
        look();
        clock.advance(1000 * pick(30));
        look();
        pass();
      }
    }
    for (int i = 0; i < 10; ++i) {
      settle();
      pass();
    }
    // Bursts that are gone altogether have no last word to give.
    std::erase_if(standing, [&](const std::string& s) {
      const std::vector<std::string> paths = words_of(s);
      return std::none_of(paths.begin(), paths.end(), [&](const auto& p) { return files.count(p) != 0; });
    });
  }

 private:
  static std::vector<std::string> words_of(const std::string& s) {
    std::vector<std::string> out;
    for (std::size_t at = 0, end = 0; at < s.size(); at = end + 1) {
      end = s.find(' ', at);
      out.push_back(s.substr(at, end - at));
    }
    return out;
  }

  template <class Ready>
  std::vector<Burst> bursts_of(const Ready& ready) const {
    std::vector<group::TakenFile> taken;
    for (const auto& [path, shot] : files) {
      if (shot.camera.empty() || !ready(path, shot)) continue;
      group::TakenFile t;
      const bool raw = path.ends_with(".NEF");
      t.file = {path,
                raw ? FileKind::raw : FileKind::jpeg,
                raw ? "NEF" : "JPEG",
                shot.size,
                shot.mtime_ns,
                shot.fingerprint};
      t.capture.model = shot.camera;
      t.capture.time_ms = shot.time_ms;
      t.capture.subsecond_known = true;
      if (shot.sequence) t.capture.sequence_number = shot.sequence;
      taken.push_back(std::move(t));
    }
    return group::form_bursts(group::pair_files(std::move(taken)), {});
  }

  static std::string joined(const Burst& b) {
    std::string out;
    for (const Frame& f : b.frames) {
      if (f.raw) out += f.raw->path + " ";
      if (f.jpeg) out += f.jpeg->path + " ";
      std::vector<std::string> copies;
      for (const FileRef& c : f.copies) copies.push_back(c.path);
      std::sort(copies.begin(), copies.end());
      for (const std::string& c : copies) out += c + " ";
    }
    return out;
  }

  void round(std::vector<std::string>& out) {
    auto bursts = bursts_of([&](const std::string& path, const Shot& shot) {
      const bool ready = shot.size > 0 && tracker.file_ready(path, shot.size, shot.mtime_ns);
      if (ready) opened.push_back(path);
      if (ready && locked.count(path) != 0) tracker.failed({Cause::io, path, "Permission denied"});
      return ready && locked.count(path) == 0;
    });
    for (const auto& [path, shot] : files)
      if (shot.camera.empty() && shot.size > 0 && tracker.file_ready(path, shot.size, shot.mtime_ns))
        opened.push_back(path);
    std::erase_if(bursts, [&](const Burst& b) { return !tracker.burst_ready(b); });
    for (const Burst& b : bursts) {
      out.push_back(names(b));
      tell(b);
    }
  }

  static std::string names(const Burst& b) {
    std::string out;
    for (const Frame& f : b.frames) {
      const std::string name = leaf_of(f.main().path);
      out += (out.empty() ? "" : " ") + name.substr(0, name.rfind('.')) + (f.raw && f.jpeg ? "+" : "");
    }
    return out;
  }

  void tell(const Burst& b) {
    BurstOutcome o;
    o.camera = b.camera;
    const std::string now = joined(b);
    for (const Frame& f : b.frames) {
      FrameOutcome frame;
      frame.frame = f;
      if (damaged.count(f.main().path) != 0) frame.facts.damage = "data ends early";
      o.frames.push_back(std::move(frame));
    }
    // What stood before of any of its files stands no longer.
    const std::vector<std::string> mine = words_of(now);
    std::erase_if(standing, [&](const std::string& s) {
      const std::vector<std::string> paths = words_of(s);
      return std::any_of(paths.begin(), paths.end(), [&](const std::string& p) {
        return files.count(p) == 0 || std::find(mine.begin(), mine.end(), p) != mine.end();
      });
    });
    standing.insert(now);
    tracker.outcome(o);
  }

  std::uint64_t fingerprint_ = 0;
};

}  // namespace burstsieve::test
