// Any file system, with a fault point at every step that changes something.
#pragma once
#include <memory>
#include <string>
#include <utility>
#include <vector>

#include "base/fault_point.h"
#include "burstsieve/base/file_system.h"

namespace burstsieve::test {

class FaultFileSystem final : public FileSystem {
 public:
  FaultFileSystem(FileSystem& real, FaultPoint& point) : real_(real), point_(point) {}

  Result<ByteBuffer> read_file(const std::string& path, std::uint64_t max_bytes) override {
    return real_.read_file(path, max_bytes);
  }
  Result<std::optional<FileStat>> stat(const std::string& path) override { return real_.stat(path); }
  Result<std::vector<std::string>> list(const std::string& path) override { return real_.list(path); }

  Result<std::unique_ptr<NewFile>> create(const std::string& path, std::uint32_t mode) override {
    return step<Result<std::unique_ptr<NewFile>>>(path, [&]() -> Result<std::unique_ptr<NewFile>> {
      auto file = real_.create(path, mode);
      if (!file) return file.error();
      return std::unique_ptr<NewFile>(std::make_unique<File>(*this, std::move(*file), path));
    });
  }
  Status rename(const std::string& from, const std::string& to, bool replace) override {
    return step<Status>(to, [&] { return real_.rename(from, to, replace); });
  }
  Status remove(const std::string& path) override {
    return step<Status>(path, [&] { return real_.remove(path); });
  }
  Result<bool> remove_abandoned(const std::string& path) override {
    return step<Result<bool>>(path, [&] { return real_.remove_abandoned(path); });
  }
  Status make_folder(const std::string& path, std::uint32_t mode) override {
    return step<Status>(path, [&] { return real_.make_folder(path, mode); });
  }
  Status sync_folder(const std::string& path) override {
    return step<Status>(path, [&] { return real_.sync_folder(path); });
  }

 private:
  class File final : public NewFile {
   public:
    File(FaultFileSystem& fs, std::unique_ptr<NewFile> real, std::string path)
        : fs_(fs), real_(std::move(real)), path_(std::move(path)) {}
    Status write(Bytes bytes) override {
      if (fs_.point_.reached(Kind::file,
                             [&] { static_cast<void>(real_->write(bytes.first(bytes.size() / 2))); }))
        return refused(path_);
      auto done = real_->write(bytes);
      fs_.point_.passed();
      return done;
    }
    Status take_after(const FileStat& model) override {
      return fs_.step<Status>(path_, [&] { return real_->take_after(model); });
    }
    Status sync() override {
      return fs_.step<Status>(path_, [&] { return real_->sync(); });
    }
    Status close() override {
      return fs_.step<Status>(path_, [&] { return real_->close(); });
    }

   private:
    FaultFileSystem& fs_;
    std::unique_ptr<NewFile> real_;
    std::string path_;
  };

  static Error refused(const std::string& path) { return Error{Cause::io, path, "refused by the test"}; }

  template <class R, class Do>
  R step(const std::string& path, Do doing) {
    if (point_.reached(Kind::file)) return refused(path);
    R done = doing();
    point_.passed();
    return done;
  }

  FileSystem& real_;
  FaultPoint& point_;
};

}  // namespace burstsieve::test
