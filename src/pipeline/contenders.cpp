#include "contenders.h"

#include "burstsieve/base/file_system.h"

namespace burstsieve::pipeline {

std::vector<rank::Contender> contenders(const std::vector<Frame>& frames,
                                        const std::vector<FrameFacts>& facts,
                                        const group::PoseOptions& options) {
  std::vector<const PoseDescriptor*> pictures;
  for (const FrameFacts& f : facts) pictures.push_back(&f.pose);
  const std::vector<int> poses = group::pose_groups(pictures, options);
  std::vector<rank::Contender> out;
  for (std::size_t i = 0; i < frames.size(); ++i)
    out.push_back({leaf_of(frames[i].main().path), &facts[i], poses[i], false, frames[i].raw.has_value()});
  return out;
}

}  // namespace burstsieve::pipeline
