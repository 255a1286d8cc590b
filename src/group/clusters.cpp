#include "clusters.h"

#include <utility>

namespace burstsieve::group {
namespace {

struct Pair {
  std::size_t first = 0, second = 0;
  double likeness = -2;
};

// `alive`: clusters named by their first member. `table`: average likeness of clusters at their names.
Pair most_alike(const LikenessTable& table, const std::vector<std::size_t>& alive) {
  Pair best;
  for (std::size_t a = 0; a < alive.size(); ++a)
    for (std::size_t b = a + 1; b < alive.size(); ++b)
      if (const double l = table.at(alive[a], alive[b]); l > best.likeness) best = {alive[a], alive[b], l};
  return best;
}

}  // namespace

std::vector<int> clusters(const LikenessTable& likeness, double least) {
  const std::size_t n = likeness.size();
  LikenessTable table = likeness;
  std::vector<std::size_t> alive(n), cluster(n);
  std::vector<double> members(n, 1);
  for (std::size_t i = 0; i < n; ++i) alive[i] = cluster[i] = i;
  while (alive.size() > 1) {
    const Pair join = most_alike(table, alive);
    if (join.likeness < least) break;
    const double a = members[join.first], b = members[join.second];
    for (const std::size_t other : alive)
      if (other != join.first && other != join.second)
        table.set(join.first, other,
                  (a * table.at(join.first, other) + b * table.at(join.second, other)) / (a + b));
    members[join.first] += members[join.second];
    std::erase(alive, join.second);
    for (std::size_t& c : cluster)
      if (c == join.second) c = join.first;
  }
  std::vector<int> number(n, -1), out(n);
  int next = 0;
  for (std::size_t i = 0; i < n; ++i) {
    int& of = number[cluster[i]];
    if (of < 0) of = next++;
    out[i] = of;
  }
  return out;
}

}  // namespace burstsieve::group
