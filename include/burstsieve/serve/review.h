// What the review page asks and says, as text in and text out; owns the decisions. One thread uses it.
#pragma once
#include <cstdint>
#include <memory>
#include <string>

#include "burstsieve/base/clock.h"
#include "burstsieve/base/file_system.h"
#include "burstsieve/base/result.h"
#include "burstsieve/catalog/catalog.h"
#include "burstsieve/pipeline/cull.h"
#include "burstsieve/pipeline/review.h"
#include "burstsieve/serve/decisions.h"
#include "burstsieve/serve/http.h"
#include "burstsieve/serve/shoot.h"

namespace burstsieve::serve {

class Review {
 public:
  // Takes up what was decided on this folder before. `options`: as the shoot was culled with. The references
  // must outlive it. An Error when the catalogue can't be read.
  static Result<std::unique_ptr<Review>> open(Shoot shoot, const pipeline::CullOptions& options,
                                              Catalog& catalog, FileSystem& fs, Clock& clock);

  const Shoot& shoot() const { return shoot_; }
  std::int64_t revision() const { return decisions_.revision(); }

  Reply shoot_reply() const;
  Reply frame_reply(std::uint32_t id) const;
  Reply series_reply(std::uint32_t burst) const;
  Reply changes_reply(std::int64_t since) const;
  // Each is on the disk before it answers. 400: nonsense, nothing was recorded; 500: the catalogue refused,
  // and nothing has changed.
  Reply decide(const std::string& body);
  Reply undo();
  Reply redo();
  // Writes the sidecars. {"only":"mine"}: of frames that the photographer decided on, else of all, as cull.
  Reply done(const std::string& body);

  // Frames whose decision no sidecar holds yet.
  std::size_t unwritten() const;

 private:
  Review(Shoot shoot, const pipeline::CullOptions& options, Catalog& catalog, FileSystem& fs, Clock& clock);
  Reply step(ReviewStep step);
  Reply state_reply(std::int64_t since, bool with_what) const;
  std::optional<int> given_rating(std::uint32_t id, const Mine& mine) const;
  pipeline::PersonsWord word_of(std::uint32_t id) const;
  Status take_up_written();

  class Writing;
  Shoot shoot_;
  Decisions decisions_;
  pipeline::CullOptions options_;
  Catalog& catalog_;
  FileSystem& fs_;
  Clock& clock_;
  std::string folder_;
  std::vector<std::optional<std::string>> written_;  // WrittenWord::said, by id - 1
};

// The body of POST /api/decide. Nothing for anything but that: another shape, an unknown word, a frame that
// isn't there, deep nesting.
struct Decision {
  std::vector<std::uint32_t> frames;  // ascending, each once
  std::optional<Verdict> verdict;     // nothing: "none"
  std::optional<int> rating;
};
std::optional<Decision> parse_decision(const std::string& body, std::uint32_t frames);

}  // namespace burstsieve::serve
