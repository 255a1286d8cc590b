// Which folders frames are set aside from, and that they and the folder they go to don't overlap.
#pragma once
#include <set>
#include <string>
#include <vector>

#include "burstsieve/pipeline/set_aside.h"

namespace burstsieve::pipeline {

// Absolute, with every link resolved as far as the path is there. Cause::io when a folder on the way refuses.
Result<std::string> resolved(const std::string& path);

// The places of the last culling run that was no dry run. Cause::unsupported when there is none or its places
// can't be found.
Result<std::vector<std::string>> last_culled(Catalog& catalog);

// Every place with its links resolved, a single file standing for its folder's tree; several get a folder
// each. Cause::unsupported when one lies in `dir`, or `dir` in it.
Result<std::vector<SetAsideJob::Root>> roots_of(const std::vector<std::string>& places,
                                                const std::string& dir);

// Folders of these photographs that were reached through a link.
std::set<std::string> linked_folders(const std::vector<Burst>& bursts);

}  // namespace burstsieve::pipeline
