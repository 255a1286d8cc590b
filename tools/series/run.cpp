#include "run.h"

#include <algorithm>
#include <set>
#include <utility>

#include "burstsieve/base/file_system.h"
#include "burstsieve/pipeline/engine.h"
#include "burstsieve/rank/policy.h"

namespace burstsieve::series {
namespace {

constexpr std::uint64_t kMostChoiceBytes = 256u << 20;  // half a million pairs take 20 MB
constexpr std::size_t kAhead = 16;                      // photographs handed to the engine at once

struct Photograph {
  std::string name;
  FrameFacts facts;
  bool raw = false;
};

std::vector<Photograph> names_of(const std::vector<PairChoice>& choices) {
  std::set<std::string> names;
  for (const PairChoice& c : choices) names.insert({c.a, c.b});
  std::vector<Photograph> out;
  for (const std::string& name : names) out.push_back({name, {}, false});
  return out;
}

// What the engine has to be told of a file. An Error when it is no photograph.
Result<Frame> frame_at(const std::string& path, FileSystem& fs, pipeline::Engine& engine) {
  const auto stat = fs.stat(path);
  if (!stat) return stat.error();
  if (!*stat) return Error{Cause::io, path, "is not there"};
  FileRef file;
  file.path = path;
  file.size = (*stat)->size;
  auto identity = std::move(engine.identify({{path, file.size, 0}}).front());
  if (!identity) return identity.error();
  if (!identity->kind) return Error{Cause::unsupported, path, "is no photograph that can be read"};
  file.kind = *identity->kind;
  file.format = identity->format;
  file.fingerprint = identity->fingerprint;
  Frame out;
  (file.kind == FileKind::raw ? out.raw : out.jpeg) = file;
  if (const auto capture = std::move(engine.read_captures({file}).front())) out.capture = *capture;
  out.jpeg_orientation = out.capture.orientation;
  return out;
}

// Questions about files are asked before anything is measured: the engine takes one kind of work at a time.
Status measure(std::vector<Photograph>& all, const std::string& folder, pipeline::Engine& engine,
               std::vector<Error>& errors) {
  RealFileSystem fs;
  for (std::size_t from = 0; from < all.size(); from += kAhead) {
    std::vector<std::size_t> asked;
    std::vector<Frame> frames;
    for (std::size_t i = from; i < std::min(all.size(), from + kAhead); ++i) {
      auto frame = frame_at(folder + "/" + all[i].name, fs, engine);
      if (frame) {
        asked.push_back(i);
        all[i].raw = frame->raw.has_value();
        frames.push_back(std::move(*frame));
      } else {
        errors.push_back(frame.error());
      }
    }
    for (Frame& f : frames) engine.submit({{std::move(f)}, {}, false});
    for (const std::size_t i : asked) {
      auto burst = engine.next({}, nullptr);
      if (!burst) return burst.error();
      if (!*burst || (*burst)->frames.size() != 1) return Error{Cause::io, folder, "the engine stopped"};
      all[i].facts = std::move((*burst)->frames.front());
      if (!all[i].facts.damage.empty())
        errors.push_back({Cause::corrupt, folder + "/" + all[i].name, all[i].facts.damage});
    }
  }
  return Done{};
}

std::map<std::string, int> places_of(std::vector<Photograph>& all,
                                     const std::optional<rank::Weights>& learnt) {
  rank::PolicyOptions policy;
  policy.learnt = learnt;
  std::vector<rank::Contender> contenders;
  for (Photograph& p : all) {
    p.facts.pixel_width = p.facts.pixel_height = 1;  // compared whatever their sizes
    contenders.push_back({p.name, &p.facts, 1});
    contenders.back().has_raw = p.raw;
  }
  const auto verdicts = rank::judge(contenders, policy);
  std::map<std::string, int> out;
  for (std::size_t i = 0; i < all.size(); ++i) out[all[i].name] = verdicts[i].place;
  return out;
}

}  // namespace

Result<RunResult> run(const RunOptions& options) {
  RealFileSystem fs;
  const auto bytes = fs.read_file(options.choices, kMostChoiceBytes);
  if (!bytes) return bytes.error();
  ChoicesFile choices =
      parse_choices({reinterpret_cast<const char*>(bytes->data()), bytes->size()}, options.choices);
  RunResult out;
  out.errors = std::move(choices.errors);
  const auto engine = pipeline::make_local_engine(options.threads, {}, nullptr, options.detectors);
  for (const auto& [name, pairs] : choices.series) {
    std::vector<Photograph> photographs = names_of(pairs);
    if (auto s = measure(photographs, options.folder, *engine, out.errors); !s) return s.error();
    add_series(pairs, places_of(photographs, options.learnt), out.score);
  }
  return out;
}

}  // namespace burstsieve::series
