#include "burstsieve/serve/review.h"

#include <fmt/format.h>

#include <algorithm>
#include <set>
#include <utility>

#include "body.h"
#include "burstsieve/base/text.h"
#include "burstsieve/rank/policy.h"
#include "page_json.h"

namespace burstsieve::serve {
namespace {

// One history of what can be undone for the places that were named together.
std::string folder_of_places(const std::vector<std::string>& places) {
  std::vector<std::string> sorted = places;
  std::sort(sorted.begin(), sorted.end());
  std::string out;
  for (const std::string& p : sorted) {
    std::string one = p;
    while (one.size() > 1 && one.back() == '/') one.pop_back();
    out += (out.empty() ? "" : "\n") + one;
  }
  return out;
}

std::vector<std::string> lines_of(const std::string& text) {
  std::vector<std::string> out;
  for (std::size_t at = 0; at < text.size();) {
    const auto end = std::min(text.find('\n', at), text.size());
    out.push_back(text.substr(at, end - at));
    at = end + 1;
  }
  return out;
}

std::string text_of(std::optional<int> rating) {
  return rating ? std::to_string(*rating) : std::string();
}

Reply json_reply(std::string body) {
  Reply out;
  out.body = std::move(body);
  return out;
}

}  // namespace

Review::Review(Shoot shoot, const pipeline::CullOptions& options, Catalog& catalog, FileSystem& fs,
               Clock& clock)
    : shoot_(std::move(shoot)),
      decisions_(shoot_.keys()),
      options_(options),
      catalog_(catalog),
      fs_(fs),
      clock_(clock),
      folder_(folder_of_places(options.places)) {}

Result<std::unique_ptr<Review>> Review::open(Shoot shoot, const pipeline::CullOptions& options,
                                             Catalog& catalog, FileSystem& fs, Clock& clock) {
  std::unique_ptr<Review> out(new Review(std::move(shoot), options, catalog, fs, clock));
  const auto steps = catalog.review_steps(out->folder_);
  if (!steps) return steps.error();
  for (const ReviewStep& s : *steps) out->decisions_.play(s);
  if (auto s = out->take_up_written(); !s) return s.error();
  return out;
}

Status Review::take_up_written() {
  for (const Decisions::Key& k : shoot_.keys()) {
    const auto word = catalog_.written_word(k.path);
    if (!word) return word.error();
    const bool known = *word && (*word)->fingerprint == k.fingerprint;
    written_.push_back(known ? std::optional((*word)->said) : std::nullopt);
  }
  return Done{};
}

Reply Review::shoot_reply() const {
  std::string folder;
  for (const std::string& p : options_.places) folder += (folder.empty() ? "" : ", ") + p;
  return json_reply(fmt::format(
      "{{\"folder\":{},\"revision\":{},\"session\":\"{}\",\"can_undo\":{},\"can_redo\":{},\n{}}}\n",
      json_text(folder), revision(), shoot_.session(), decisions_.can_undo(), decisions_.can_redo(),
      shoot_.frames_json(decisions_)));
}

Reply Review::frame_reply(std::uint32_t id) const {
  if (id < 1 || id > shoot_.frames()) return refusal(404, "there is no such frame");
  return json_reply(shoot_.frame_json(id, decisions_) + "\n");
}

Reply Review::series_reply(std::uint32_t burst) const {
  if (burst < 1 || burst > shoot_.bursts()) return refusal(404, "there is no such burst");
  return json_reply(shoot_.series_json(burst) + "\n");
}

Reply Review::state_reply(std::int64_t since, bool with_what) const {
  std::string changed;
  for (const std::size_t i : decisions_.changed_since(since))
    changed += fmt::format("{}{{\"id\":{},\"mine\":{}}}", changed.empty() ? "" : ",", i + 1,
                           mine_json(decisions_.of(i)));
  std::string out = fmt::format("{{\"revision\":{},\"changed\":[{}],\"can_undo\":{},\"can_redo\":{}",
                                revision(), changed, decisions_.can_undo(), decisions_.can_redo());
  if (with_what) out += ",\"what\":" + json_text(decisions_.what());
  return json_reply(out + "}\n");
}

Reply Review::changes_reply(std::int64_t since) const {
  if (since > revision()) return refusal(410, "the page is ahead of the server; read the shoot anew");
  return state_reply(since, false);
}

// On the disk first: a mark on the screen is a promise.
Reply Review::step(ReviewStep step) {
  step.at_ms = clock_.now_ms();
  if (const auto s = catalog_.record_review_step(folder_, step); !s)
    return refusal(500, "not recorded: " + s.error().text);
  const std::int64_t before = revision();
  decisions_.play(step);
  return state_reply(before, true);
}

Reply Review::decide(const std::string& body) {
  const auto d = parse_decision(body, shoot_.frames());
  if (!d) return refusal(400, "this is no decision on frames of this shoot");
  ReviewStep s;
  for (const std::uint32_t id : d->frames) {
    const FileRef& file = shoot_.frame(id).frame.main();
    s.choices.push_back({file.path, file.fingerprint, d->verdict, d->rating, shoot_.persons(id)});
  }
  return step(std::move(s));
}

Reply Review::undo() {
  if (!decisions_.can_undo()) return refusal(409, "there is nothing to undo");
  ReviewStep s;
  s.kind = ReviewStep::Kind::undo;
  return step(std::move(s));
}

Reply Review::redo() {
  if (!decisions_.can_redo()) return refusal(409, "there is nothing to redo");
  ReviewStep s;
  s.kind = ReviewStep::Kind::redo;
  return step(std::move(s));
}

// What xmp:Rating is to be: the photographer's stars, else ours by absolute quality.
std::optional<int> Review::given_rating(std::uint32_t id, const Mine& mine) const {
  if (mine.verdict == Verdict::undecided) return std::nullopt;
  if (mine.verdict == Verdict::reject) return -1;
  if (mine.rating) return mine.rating;
  const FrameOutcome& f = shoot_.frame(id);
  if (f.verdict.rating && *f.verdict.rating > 0) return f.verdict.rating;
  return f.facts.damage.empty() && f.facts.decoded ? rank::stars_of(f.facts, options_.policy) : 1;
}

pipeline::PersonsWord Review::word_of(std::uint32_t id) const {
  pipeline::PersonsWord out;
  const auto& mine = decisions_.of(id - 1);
  if (mine) {
    out.given = GivenWord{given_rating(id, *mine)};
    for (const std::string& seen : lines_of(mine->seen))
      out.replaceable.push_back(seen == "cleared" ? std::string() : seen);
  }
  // What we wrote in the photographer's name they may take back, or say otherwise, here.
  if (written_[id - 1]) out.replaceable.push_back(*written_[id - 1]);
  return out;
}

// Collects what became of each frame.
class Review::Writing final : public pipeline::Listener {
 public:
  explicit Writing(Review& review) : review_(review) {}

  void found(const ScanCounts&, std::size_t, std::size_t) override {}
  void progress(std::size_t, std::size_t) override {}
  void error(const Error& e) override { errors_.push_back(e); }

  void burst(const BurstOutcome& b) override {
    for (const FrameOutcome& f : b.frames) {
      const std::uint32_t id = ++id_;
      const bool mine = review_.decisions_.of(id - 1).has_value();
      bool changed = false, stands = false, failed = false;
      for (const SidecarLine& line : f.sidecars) {
        created += line.change == "created";
        updated += line.change == "updated";
        unchanged += line.change == "unchanged" || (line.change == "human" && !mine);
        changed = changed || line.change == "created" || line.change == "updated";
        stands = stands || line.change == "unchanged";
        if (line.change == "human" && mine) {
          fail(id, line.human_rating == "cleared"
                       ? "another program has removed its rating since; decide again to replace that"
                       : "another program has set its rating to " + line.human_rating +
                             " since; decide again to replace that");
          failed = true;
        }
        if (line.change == "failed") {
          fail(id, reason_for(f, line));
          failed = true;
        }
      }
      if (f.sidecars.empty()) continue;
      review_.shoot_.look_at_sidecars(id);
      if (!mine || failed || !(changed || stands)) continue;
      const std::string said = text_of(review_.given_rating(id, *review_.decisions_.of(id - 1)));
      review_.shoot_.say_person(id, said);
      // Only what we put there in the photographer's name may be replaced later without asking.
      if (!changed) continue;
      review_.written_[id - 1] = said;
      words.push_back({f.frame.main().path, f.frame.main().fingerprint, said});
    }
    errors_.clear();
  }

  std::size_t created = 0, updated = 0, unchanged = 0;
  std::string failures;  // the items of the array
  std::vector<WrittenWord> words;

 private:
  void fail(std::uint32_t id, const std::string& why) {
    const std::string name = leaf_of(review_.shoot_.frame(id).frame.main().path);
    failures += fmt::format("{}{{\"id\":{},\"name\":{},\"why\":{}}}", failures.empty() ? "" : ",", id,
                            json_text(name), json_text(why));
  }

  std::string reason_for(const FrameOutcome& f, const SidecarLine& line) const {
    for (const Error& e : errors_)
      if (e.file == line.path || e.file == f.frame.main().path ||
          (f.frame.jpeg && e.file == f.frame.jpeg->path))
        return e.text;
    return "its sidecar could not be written";
  }

  Review& review_;
  std::uint32_t id_ = 0;
  std::vector<Error> errors_;
};

Reply Review::done(const std::string& body) {
  const auto asked = parse_object(body.empty() ? "{}" : body);
  if (!asked) return refusal(400, "an object is expected");
  const bool only_mine = asked->contains("only") && (*asked)["only"] == "mine";
  if (asked->contains("only") && !only_mine) return refusal(400, "\"only\" can be \"mine\"");
  Writing writing(*this);
  std::uint32_t id = 0;
  const auto word = [&](const FrameOutcome&) -> std::optional<pipeline::PersonsWord> {
    ++id;
    if (only_mine && !decisions_.of(id - 1)) return std::nullopt;
    return word_of(id);
  };
  const auto summary =
      pipeline::write_reviewed(options_, shoot_.outcomes(), word, catalog_, fs_, clock_, writing);
  if (const auto s = catalog_.record_written(writing.words); !s)
    return refusal(500, "the sidecars are written, but not remembered: " + s.error().text);
  if (!summary) return refusal(500, "the sidecars could not be written: " + summary.error().text);
  return json_reply(fmt::format("{{\"created\":{},\"updated\":{},\"unchanged\":{},\"failed\":[{}]}}\n",
                                writing.created, writing.updated, writing.unchanged, writing.failures));
}

std::size_t Review::unwritten() const {
  std::size_t n = 0;
  for (std::uint32_t id = 1; id <= shoot_.frames(); ++id) {
    const auto& mine = decisions_.of(id - 1);
    if (!mine) continue;
    const std::string said = text_of(given_rating(id, *mine));
    const auto known = lines_of(shoot_.persons(id));
    const bool stands = std::find(known.begin(), known.end(), said.empty() ? "cleared" : said) != known.end();
    n += !stands && written_[id - 1] != said;
  }
  return n;
}

}  // namespace burstsieve::serve
