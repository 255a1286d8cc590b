#include "burstsieve/image/buffer_pool.h"

#include <sys/mman.h>

#include <algorithm>
#include <cstdlib>
#include <memory>
#include <mutex>
#include <new>
#include <vector>

namespace burstsieve::image {
namespace {

// Idle memory beyond this goes back to the system: the planes of two 45 MP frames stay warm.
constexpr std::size_t kMaxIdle = 256u << 20;
// A block may serve a request of at least half its size, so that mixed frame sizes do not pin memory.
constexpr std::size_t kMaxSlack = 2;
constexpr std::size_t kHuge = 2u << 20;  // x86-64 and most arm64 transparent huge pages
constexpr std::size_t kAlign = 64;       // a cache line; no vector load straddles two

struct Block {
  void* data = nullptr;
  std::size_t size = 0;
};

class Blocks {
 public:
  Block take(std::size_t wanted) {
    {
      const std::lock_guard lock(mutex_);
      auto best = idle_.end();
      for (auto it = idle_.begin(); it != idle_.end(); ++it)
        if (it->size >= wanted && it->size / kMaxSlack <= wanted &&
            (best == idle_.end() || it->size < best->size))
          best = it;
      if (best != idle_.end()) {
        const Block block = *best;
        idle_.erase(best);
        state_.idle_bytes -= block.size;
        state_.in_use_bytes += block.size;
        return block;
      }
    }
    const Block block = fresh(wanted);
    const std::lock_guard lock(mutex_);
    state_.in_use_bytes += block.size;
    ++state_.allocations;
    return block;
  }

  void give(Block block) {
    const std::lock_guard lock(mutex_);
    state_.in_use_bytes -= block.size;
    state_.idle_bytes += block.size;
    idle_.push_back(block);
    while (state_.idle_bytes > kMaxIdle) drop_oldest();
  }

  void drain() {
    const std::lock_guard lock(mutex_);
    while (!idle_.empty()) drop_oldest();
  }

  PoolState state() {
    const std::lock_guard lock(mutex_);
    return state_;
  }

 private:
  static Block fresh(std::size_t wanted) {
    const bool big = wanted >= kHuge;
    const std::size_t align = big ? kHuge : kAlign;
    const std::size_t size = (wanted + align - 1) / align * align;
    void* data = std::aligned_alloc(align, size);
    if (!data) throw std::bad_alloc();
    // Fewer page faults and fewer TLB misses; a refusal only costs that gain.
    if (big) (void)madvise(data, size, MADV_HUGEPAGE);
    return {data, size};
  }

  void drop_oldest() {
    state_.idle_bytes -= idle_.front().size;
    std::free(idle_.front().data);
    idle_.erase(idle_.begin());
  }

  std::mutex mutex_;
  std::vector<Block> idle_;  // oldest first; a handful
  PoolState state_;
};

// Never destroyed: a picture may outlive static destruction.
Blocks& blocks() {
  static Blocks& instance = *new Blocks;
  return instance;
}

// OpenCV's way in: a cv::Mat hands its memory back to the allocator it came from.
class PoolAllocator final : public cv::MatAllocator {
 public:
  cv::UMatData* allocate(int dims, const int* sizes, int type, void* data, std::size_t* step, cv::AccessFlag,
                         cv::UMatUsageFlags) const override {
    CV_Assert(data == nullptr);
    std::size_t total = CV_ELEM_SIZE(type);
    for (int i = dims - 1; i >= 0; --i) {
      if (step) step[i] = total;
      total *= static_cast<std::size_t>(sizes[i]);
    }
    auto held = std::make_unique<cv::UMatData>(this);
    const Block block = blocks().take(std::max(total, kAlign));
    held->data = held->origdata = static_cast<uchar*>(block.data);
    held->size = block.size;
    return held.release();
  }
  bool allocate(cv::UMatData* data, cv::AccessFlag, cv::UMatUsageFlags) const override {
    return data != nullptr;
  }
  void deallocate(cv::UMatData* data) const override {
    if (!data) return;
    blocks().give({data->origdata, data->size});
    data->origdata = nullptr;
    delete data;
  }
};

}  // namespace

cv::Mat pooled(int rows, int cols, int type) {
  static PoolAllocator& allocator = *new PoolAllocator;
  cv::Mat out;
  out.allocator = &allocator;
  out.create(rows, cols, type);
  return out;
}

PoolState pool_state() {
  return blocks().state();
}

void drain_pool() {
  blocks().drain();
}

}  // namespace burstsieve::image
