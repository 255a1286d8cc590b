// A file system in memory that fails or crashes at the n-th changing operation, and knows what a power cut
// would leave on the disk.
#pragma once
#include <algorithm>
#include <map>
#include <memory>
#include <string>
#include <vector>

#include "burstsieve/base/file_system.h"

namespace burstsieve::test {

enum class Fault { none, fail, crash };

class MemoryFileSystem final : public FileSystem {
 public:
  struct Node {
    ByteBuffer live;     // what a reader sees
    ByteBuffer on_disk;  // what was synced
    FileStat stat;
  };
  using Names = std::map<std::string, std::shared_ptr<Node>>;

  // The n-th changing operation (1-based) fails once, or is the last thing that ever happens; a write then
  // leaves half its bytes.
  Fault fault = Fault::none;
  int at = 0;
  int operations = 0;
  bool crashed = false;

  void put(const std::string& path, const ByteBuffer& bytes, std::uint32_t mode = 0644) {
    auto node = std::make_shared<Node>();
    node->live = node->on_disk = bytes;
    node->stat = {FileType::regular, bytes.size(), ++time_, mode, 0, 0, ++identity_};
    live_[path] = disk_[path] = node;
  }

  const Names& names() const { return live_; }

  // Everything a power cut now could leave of `path` (empty optional: no such file): with and without the
  // names that were not synced, with and without the contents that were not synced.
  std::vector<std::optional<ByteBuffer>> after_power_cut(const std::string& path) const {
    std::vector<std::optional<ByteBuffer>> out;
    for (const Names* names : {&live_, &disk_}) {
      const auto it = names->find(path);
      if (it == names->end()) {
        out.emplace_back();
        continue;
      }
      out.emplace_back(it->second->live);
      out.emplace_back(it->second->on_disk);
    }
    return out;
  }

  Result<ByteBuffer> read_file(const std::string& path, std::uint64_t max_bytes) override {
    const auto it = live_.find(path);
    if (crashed || it == live_.end()) return refused(path);
    if (it->second->live.size() > max_bytes) return Error{Cause::limit, path, "too long"};
    return it->second->live;
  }
  Result<std::optional<FileStat>> stat(const std::string& path) override {
    if (crashed) return refused(path);
    const auto it = live_.find(path);
    if (it == live_.end()) return std::optional<FileStat>();
    FileStat s = it->second->stat;
    s.size = it->second->live.size();
    return std::optional<FileStat>(s);
  }
  Result<std::vector<std::string>> list(const std::string& path) override {
    if (crashed) return refused(path);
    std::vector<std::string> out;
    for (const auto& [name, node] : live_)
      if (folder_of(name) == path) out.push_back(leaf_of(name));
    return out;
  }

  Result<std::unique_ptr<NewFile>> create(const std::string& path, std::uint32_t mode) override {
    if (!step()) return refused(path);
    if (live_.count(path) != 0) return refused(path);
    auto node = std::make_shared<Node>();
    node->stat = {FileType::regular, 0, ++time_, mode, 0, 0, ++identity_};
    live_[path] = node;
    return std::unique_ptr<NewFile>(std::make_unique<File>(*this, node));
  }
  Status rename(const std::string& from, const std::string& to, bool replace) override {
    if (!step()) return refused(to);
    if (live_.count(from) == 0 || (!replace && live_.count(to) != 0)) return refused(to);
    live_[to] = live_[from];
    live_.erase(from);
    return Done{};
  }
  Status remove(const std::string& path) override {
    if (!step() || live_.erase(path) == 0) return refused(path);
    return Done{};
  }
  // Nobody holds anything here.
  Result<bool> remove_abandoned(const std::string& path) override {
    if (auto s = remove(path); !s) return s.error();
    return true;
  }
  Status make_folder(const std::string& path, std::uint32_t) override {
    if (!step()) return refused(path);
    return Done{};
  }
  Status sync_folder(const std::string& path) override {
    if (!step()) return refused(path);
    disk_ = live_;
    return Done{};
  }

 private:
  class File final : public NewFile {
   public:
    File(MemoryFileSystem& fs, std::shared_ptr<Node> node) : fs_(fs), node_(std::move(node)) {}
    Status write(Bytes bytes) override {
      if (fs_.crashed) return refused("file");
      const bool ok = fs_.step();
      const auto n = static_cast<std::ptrdiff_t>(ok ? bytes.size() : bytes.size() / 2);
      node_->live.insert(node_->live.end(), bytes.begin(), bytes.begin() + n);
      if (!ok) return refused("file");
      return Done{};
    }
    Status take_after(const FileStat& model) override {
      if (!fs_.step()) return refused("file");
      node_->stat.mode = model.mode;
      return Done{};
    }
    Status sync() override {
      if (!fs_.step()) return refused("file");
      node_->on_disk = node_->live;
      return Done{};
    }
    Status close() override {
      if (!fs_.step()) return refused("file");
      return Done{};
    }

   private:
    MemoryFileSystem& fs_;
    std::shared_ptr<Node> node_;
  };

  static Error refused(const std::string& path) { return Error{Cause::io, path, "refused by the test"}; }
  bool step() {
    if (crashed) return false;
    if (++operations != at || fault == Fault::none) return true;
    crashed = fault == Fault::crash;
    return false;
  }

  Names live_;
  Names disk_;
  std::int64_t time_ = 0;
  std::uint64_t identity_ = 0;
};

}  // namespace burstsieve::test
