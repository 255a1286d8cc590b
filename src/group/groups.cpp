// Pose groups of a burst from the likeness of its frames.
#include <algorithm>
#include <cstddef>
#include <span>
#include <utility>

#include "burstsieve/group/pose.h"
#include "clusters.h"
#include "print.h"

namespace burstsieve::group {
namespace {

// Frames clustered at once: their likeness is known for every pair. Two seconds at 30 frames a second.
constexpr std::size_t kBlock = 64;
// Frames that stand for a group when later blocks are compared with it, and groups that are remembered.
constexpr std::size_t kWitnesses = 4, kRemembered = 32;

struct Group {
  int number = 0;
  std::vector<PosePrint> witnesses;
};

struct Frames {
  std::vector<std::size_t> index;  // into the burst
  std::vector<PosePrint> prints;
};

std::vector<int> clusters_of(const std::vector<PosePrint>& prints, double least) {
  LikenessTable table(prints.size());
  for (std::size_t i = 0; i < prints.size(); ++i)
    for (std::size_t k = i + 1; k < prints.size(); ++k) table.set(i, k, likeness(prints[i], prints[k]));
  return clusters(table, least);
}

double mean_likeness(const Group& group, const std::vector<const PosePrint*>& members) {
  double sum = 0;
  for (const PosePrint& w : group.witnesses)
    for (const PosePrint* m : members) sum += likeness(w, *m);
  return sum / static_cast<double>(group.witnesses.size() * members.size());
}

// Evenly over the members, the first always.
std::vector<const PosePrint*> spread(const std::vector<const PosePrint*>& members) {
  std::vector<const PosePrint*> out;
  const std::size_t n = std::min(kWitnesses, members.size());
  for (std::size_t i = 0; i < n; ++i) out.push_back(members[i * members.size() / n]);
  return out;
}

class Grouping {
 public:
  explicit Grouping(double least) : least_(least) {}

  // Numbers for the block's frames.
  std::vector<int> add(const std::vector<PosePrint>& prints) {
    const std::vector<int> cluster = clusters_of(prints, least_);
    const int count = cluster.empty() ? 0 : *std::max_element(cluster.begin(), cluster.end()) + 1;
    std::vector<int> number(static_cast<std::size_t>(count));
    const std::size_t known = groups_.size();  // the block's own clusters are apart already
    for (int c = 0; c < count; ++c) {
      std::vector<const PosePrint*> members;
      for (std::size_t i = 0; i < cluster.size(); ++i)
        if (cluster[i] == c) members.push_back(&prints[i]);
      number[static_cast<std::size_t>(c)] = number_of(spread(members), known);
    }
    std::vector<int> out;
    for (const int c : cluster) out.push_back(number[static_cast<std::size_t>(c)]);
    return out;
  }

 private:
  int number_of(const std::vector<const PosePrint*>& members, std::size_t known) {
    int best = 0;
    double most = least_;
    for (std::size_t g = known > kRemembered ? known - kRemembered : 0; g < known; ++g)
      if (const double l = mean_likeness(groups_[g], members); l >= most) most = l, best = groups_[g].number;
    if (best != 0) return best;
    Group made{static_cast<int>(groups_.size()) + 1, {}};
    for (const PosePrint* m : members) made.witnesses.push_back(*m);
    groups_.push_back(std::move(made));
    return groups_.back().number;
  }

  double least_;
  std::vector<Group> groups_;
};

}  // namespace

Status PoseOptions::check() const {
  if (likeness > 0 && likeness <= 1) return Done{};
  return Error{Cause::unsupported, {}, "the likeness of frames of one pose must be above 0 and up to 1"};
}

double likeness(const PoseDescriptor& a, const PoseDescriptor& b) {
  return likeness(print_of(a), print_of(b));
}

std::vector<int> pose_groups(const std::vector<const PoseDescriptor*>& frames, const PoseOptions& options) {
  std::vector<int> out(frames.size(), 0);
  Grouping grouping(options.likeness);
  Frames block;
  const auto close = [&] {
    const std::vector<int> numbers = grouping.add(block.prints);
    for (std::size_t i = 0; i < numbers.size(); ++i) out[block.index[i]] = numbers[i];
    block = {};
  };
  for (std::size_t i = 0; i < frames.size(); ++i) {
    if (!frames[i]) continue;
    PosePrint print = print_of(*frames[i]);
    if (print.empty()) continue;
    block.index.push_back(i);
    block.prints.push_back(std::move(print));
    if (block.index.size() == kBlock) close();
  }
  close();
  return out;
}

}  // namespace burstsieve::group
