// The end of a review: sidecars that say what the photographer said, and what we say of the rest.
#pragma once
#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "burstsieve/base/clock.h"
#include "burstsieve/base/file_system.h"
#include "burstsieve/base/result.h"
#include "burstsieve/catalog/catalog.h"
#include "burstsieve/model/outcome.h"
#include "burstsieve/sidecar/merge.h"

namespace burstsieve::pipeline {

struct CullOptions;
class Listener;

// As SidecarEntry has them.
struct PersonsWord {
  std::optional<GivenWord> given;  // nothing: they said nothing, and our verdict is written as cull does
  std::vector<std::string> replaceable;  // ratings that they knew of
};

// Asked for each frame; nothing: no sidecar of this frame is touched.
using WordOf = std::function<std::optional<PersonsWord>(const FrameOutcome&)>;

// Writes the sidecars of `bursts`, which cull() has told (their outcomes' `sidecars` are made anew), by the
// journal: one run, which undo() takes back as any other. A person's rating that is not among `replaceable`
// stands, and its line says "human". Where the given word differs from our verdict it is recorded as an
// override. The listener is told each burst when it is done, and errors before it.
// options.dry_run is ignored. An Error when the catalogue can't be used.
Result<RunSummary> write_reviewed(const CullOptions& options, std::vector<BurstOutcome>& bursts,
                                  const WordOf& word_of, Catalog& catalog, FileSystem& fs, Clock& clock,
                                  Listener& listener);

}  // namespace burstsieve::pipeline
