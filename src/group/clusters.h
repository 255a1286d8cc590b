// Putting together what is alike on average.
#pragma once
#include <cstddef>
#include <vector>

namespace burstsieve::group {

// Likeness of every two of n things; symmetric.
class LikenessTable {
 public:
  explicit LikenessTable(std::size_t n) : n_(n), values_(n * n, 1) {}
  std::size_t size() const { return n_; }
  double at(std::size_t i, std::size_t k) const { return values_[i * n_ + k]; }
  void set(std::size_t i, std::size_t k, double value) { values_[i * n_ + k] = values_[k * n_ + i] = value; }

 private:
  std::size_t n_;
  std::vector<double> values_;
};

// Average linkage (Sokal & Michener 1958, from memory): the two clusters whose members are most alike on
// average are joined until none reach `least`. Cluster of each thing, 0.. in order of first appearance. Of
// equals the earlier pair is joined. O(n^3).
std::vector<int> clusters(const LikenessTable& likeness, double least);

}  // namespace burstsieve::group
