// Two file systems in memory, /card and /disk, whose n-th changing operation fails or is the last before a
// power cut; and every state that a power cut could leave of them.
//
// Names: each disk keeps the order of its own changes (a journal), so that a power cut loses the last few of
// them, but none before the last sync of a folder on that disk. Nothing orders the two disks among each
// other. Contents: what was written since the last sync of the file may be there or not.
#pragma once
#include <algorithm>
#include <array>
#include <functional>
#include <map>
#include <memory>
#include <string>
#include <vector>

#include "base/memory_file_system.h"
#include "burstsieve/base/file_system.h"

namespace burstsieve::test {

class TwoDisks final : public FileSystem {
 public:
  struct Node {
    ByteBuffer live, on_disk;
    FileStat stat;
  };
  using Names = std::map<std::string, std::shared_ptr<Node>>;

  TwoDisks() {
    for (const char* root : {"/", "/card", "/disk"}) add_folder(root);
    forget_history();
  }

  Fault fault = Fault::none;
  int at = 0;
  int operations = 0;
  bool crashed = false;
  bool read_only_card = false;

  void put(const std::string& path, const ByteBuffer& bytes, std::int64_t mtime_ns, std::uint32_t mode) {
    for (std::size_t slash = path.find('/', 1); slash != std::string::npos; slash = path.find('/', slash + 1))
      add_folder(path.substr(0, slash));
    auto node = std::make_shared<Node>();
    node->live = node->on_disk = bytes;
    node->stat = {FileType::regular, bytes.size(), mtime_ns, mode, 0, 0, ++identity_};
    live(path)[path] = node;
    forget_history();
  }

  // Regular files by name.
  std::map<std::string, Node> files() const {
    std::map<std::string, Node> out;
    for (const Names& names : live_)
      for (const auto& [path, node] : names)
        if (node->stat.type == FileType::regular) out.emplace(path, *node);
    return out;
  }

  // What a killed process leaves (first), and then what power cuts could.
  std::vector<std::unique_ptr<TwoDisks>> afterwards() const {
    std::vector<std::unique_ptr<TwoDisks>> out;
    for (std::size_t a = history_[0].size(); a-- > 0;)
      for (std::size_t b = history_[1].size(); b-- > 0;)
        for (const bool synced : {false, true}) out.push_back(booted(history_[0][a], history_[1][b], synced));
    return out;
  }

  Result<ByteBuffer> read_file(const std::string& path, std::uint64_t max_bytes) override {
    const auto node = file(path);
    if (!node) return refused(path);
    if (node->live.size() > max_bytes) return Error{Cause::limit, path, "too long"};
    return node->live;
  }
  Result<std::optional<FileStat>> stat(const std::string& path) override {
    if (crashed) return refused(path);
    const auto node = find(path);
    return node ? std::optional(node->stat) : std::optional<FileStat>();
  }
  Result<std::vector<std::string>> list(const std::string& path) override {
    if (crashed) return refused(path);
    std::vector<std::string> out;
    for (const auto& [name, node] : live(path))
      if (name != path && folder_of(name) == path) out.push_back(leaf_of(name));
    return out;
  }

  Result<std::unique_ptr<NewFile>> create(const std::string& path, std::uint32_t mode) override {
    if (!step() || find(path) || !find(folder_of(path))) return refused(path);
    auto node = std::make_shared<Node>();
    node->stat = {FileType::regular, 0, ++time_, mode, 0, 0, ++identity_};
    live(path)[path] = node;
    remember(path);
    return std::unique_ptr<NewFile>(std::make_unique<File>(*this, node));
  }
  Status rename(const std::string& from, const std::string& to, bool replace) override {
    if (!step() || !find(from) || disk(from) != disk(to) || (!replace && find(to))) return refused(to);
    live(to)[to] = find(from);
    live(from).erase(from);
    remember(to);
    return Done{};
  }
  Status remove(const std::string& path) override {
    if (!step() || !file(path) || (read_only_card && disk(path) == 0)) return refused(path);
    live(path).erase(path);
    remember(path);
    return Done{};
  }
  Status make_folder(const std::string& path, std::uint32_t) override {
    if (!step()) return refused(path);
    add_folder(path);
    remember(path);
    return Done{};
  }
  Status sync_folder(const std::string& path) override {
    if (!step() || !find(path)) return refused(path);
    history_[disk(path)] = {live(path)};
    return Done{};
  }
  Result<std::unique_ptr<OpenFile>> open(const std::string& path, bool) override {
    const auto node = file(path);
    if (!node) return refused(path);
    return std::unique_ptr<OpenFile>(std::make_unique<Reader>(*this, node));
  }
  Result<std::unique_ptr<NewFile>> append(const std::string& path) override {
    const auto node = file(path);
    if (!step() || !node) return refused(path);
    return std::unique_ptr<NewFile>(std::make_unique<File>(*this, node));
  }
  Result<Renamed> rename_on_device(const std::string& from, const std::string& to) override {
    if (!crashed && disk(from) != disk(to)) return Renamed::other_device;
    if (auto s = rename(from, to, false); !s) return s.error();
    return Renamed::done;
  }
  Status check_writable(const std::string& folder) override {
    if (crashed) return refused(folder);
    return Done{};
  }
  Result<std::unique_ptr<FolderHold>> hold(const std::string& folder) override {
    if (crashed) return refused(folder);
    return std::make_unique<FolderHold>();
  }

 private:
  class File final : public NewFile {
   public:
    File(TwoDisks& fs, std::shared_ptr<Node> node) : fs_(fs), node_(std::move(node)) {}
    Status write(Bytes bytes) override {
      if (fs_.crashed) return refused("file");
      const bool ok = fs_.step();
      const auto n = static_cast<std::ptrdiff_t>(ok ? bytes.size() : bytes.size() / 2);
      node_->live.insert(node_->live.end(), bytes.begin(), bytes.begin() + n);
      node_->stat.size = node_->live.size();
      node_->stat.mtime_ns = ++fs_.time_;
      if (!ok) return refused("file");
      return Done{};
    }
    Status take_after(const FileStat& model) override {
      if (!fs_.step()) return refused("file");
      node_->stat.mode = model.mode;
      return Done{};
    }
    Status set_mtime(std::int64_t ns) override {
      if (!fs_.step()) return refused("file");
      node_->stat.mtime_ns = ns;
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
    TwoDisks& fs_;
    std::shared_ptr<Node> node_;
  };

  class Reader final : public OpenFile {
   public:
    Reader(TwoDisks& fs, std::shared_ptr<Node> node) : fs_(fs), node_(std::move(node)) {}
    Result<FileStat> stat() override {
      if (fs_.crashed) return refused("file");
      return node_->stat;
    }
    Result<std::size_t> read(std::span<std::uint8_t> into) override {
      if (fs_.crashed) return refused("file");
      const std::size_t n = std::min(into.size(), node_->live.size() - at_);
      std::copy_n(node_->live.begin() + static_cast<std::ptrdiff_t>(at_), n, into.begin());
      at_ += n;
      return n;
    }

   private:
    TwoDisks& fs_;
    std::shared_ptr<Node> node_;
    std::size_t at_ = 0;
  };

  static Error refused(const std::string& path) { return Error{Cause::io, path, "refused by the test"}; }
  bool step() {
    if (crashed) return false;
    if (++operations != at || fault == Fault::none) return true;
    crashed = fault == Fault::crash;
    return false;
  }

  static std::size_t disk(const std::string& path) { return path.starts_with("/disk") ? 1 : 0; }
  Names& live(const std::string& path) { return live_[disk(path)]; }
  std::shared_ptr<Node> find(const std::string& path) {
    const auto it = live(path).find(path);
    return it == live(path).end() ? nullptr : it->second;
  }
  std::shared_ptr<Node> file(const std::string& path) {
    const auto node = crashed ? nullptr : find(path);
    return node && node->stat.type == FileType::regular ? node : nullptr;
  }
  void add_folder(const std::string& path) {
    auto& node = live(path)[path];
    if (node) return;
    node = std::make_shared<Node>();
    node->stat = {FileType::folder, 0, 0, 0755, 0, 0, ++identity_};
  }
  void remember(const std::string& path) { history_[disk(path)].push_back(live(path)); }
  void forget_history() { history_ = {std::vector{live_[0]}, std::vector{live_[1]}}; }

  std::unique_ptr<TwoDisks> booted(const Names& card, const Names& other, bool synced_only) const {
    auto out = std::make_unique<TwoDisks>();
    for (const Names* names : {&card, &other})
      for (const auto& [path, node] : *names) {
        auto copy = std::make_shared<Node>(*node);
        if (synced_only) copy->live = node->on_disk;
        copy->on_disk = copy->live;
        if (copy->stat.type == FileType::regular) copy->stat.size = copy->live.size();
        out->live(path)[path] = copy;
      }
    out->identity_ = identity_;
    out->time_ = time_ + 1000;
    out->forget_history();
    return out;
  }

  std::array<Names, 2> live_;
  std::array<std::vector<Names>, 2> history_;  // of each disk, the oldest is surely on it
  std::int64_t time_ = 5'000'000'000;
  std::uint64_t identity_ = 0;
};

}  // namespace burstsieve::test
