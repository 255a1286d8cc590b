// The file system, injected wherever something is written, so that a test can fail or crash any step.
//
// Paths are bytes. The last component of a path is never followed when it is a symbolic link; folders before
// it may be links. Every error is Cause::io (but for read_file's limit), names the path and carries the
// operating system's word.
#pragma once
#include <cstdint>
#include <memory>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "burstsieve/base/bytes.h"
#include "burstsieve/base/result.h"

namespace burstsieve {

enum class FileType { regular, folder, symlink, other };

struct FileStat {
  FileType type = FileType::other;
  std::uint64_t size = 0;      // bytes
  std::int64_t mtime_ns = 0;   // nanoseconds since 1970
  std::uint32_t mode = 0;      // permission bits, 07777
  std::uint32_t owner = 0;     // user id
  std::uint32_t group = 0;     // group id
  std::uint64_t identity = 0;  // inode number: a replaced file has another one
  bool operator==(const FileStat&) const = default;
};

// A file being written for the first time. Destroying it closes it without a word; it does not remove it.
// Until it is destroyed, also after close(), FileSystem::remove_abandoned() leaves it alone.
class NewFile {
 public:
  NewFile() = default;
  NewFile(const NewFile&) = delete;
  NewFile& operator=(const NewFile&) = delete;
  virtual ~NewFile() = default;

  // All of `bytes`, or an error.
  virtual Status write(Bytes bytes) = 0;
  // Takes over the permissions of `model`, and its owner and group where the system allows that.
  virtual Status take_after(const FileStat& model) = 0;
  // The time of the last change, nanoseconds since 1970; after the last write(). The file system may round
  // it.
  virtual Status set_mtime(std::int64_t ns);
  // Contents and size are on the disk when this returns.
  virtual Status sync() = 0;
  virtual Status close() = 0;
};

// A regular file being read from its beginning, piece by piece.
class OpenFile {
 public:
  OpenFile() = default;
  OpenFile(const OpenFile&) = delete;
  OpenFile& operator=(const OpenFile&) = delete;
  virtual ~OpenFile() = default;

  // Of the file that is open, whatever its name leads to by now.
  virtual Result<FileStat> stat() = 0;
  // How many bytes were put into `into`; 0 only at the end of the file.
  virtual Result<std::size_t> read(std::span<std::uint8_t> into) = 0;
};

enum class Renamed {
  done,
  other_device,  // the two names lie on different file systems: nothing happened
};

// Keeps others out of a folder by agreement; let go by its destructor and by the end of the process.
class FolderHold {
 public:
  FolderHold() = default;
  FolderHold(const FolderHold&) = delete;
  FolderHold& operator=(const FolderHold&) = delete;
  virtual ~FolderHold() = default;
};

class FileSystem {
 public:
  FileSystem() = default;
  FileSystem(const FileSystem&) = delete;
  FileSystem& operator=(const FileSystem&) = delete;
  virtual ~FileSystem() = default;

  // A regular file, whole. Cause::limit when it is longer than max_bytes; Cause::unsupported when it is a
  // symbolic link or no regular file.
  virtual Result<ByteBuffer> read_file(const std::string& path, std::uint64_t max_bytes) = 0;
  // What is at `path` itself (a link is a link); nothing when there is nothing.
  virtual Result<std::optional<FileStat>> stat(const std::string& path) = 0;
  // Names in a folder, without "." and "..", sorted by byte value.
  virtual Result<std::vector<std::string>> list(const std::string& path) = 0;

  // Creates `path`; fails when anything is there. `mode` is subject to the umask.
  virtual Result<std::unique_ptr<NewFile>> create(const std::string& path, std::uint32_t mode) = 0;
  // Atomic. Fails when anything is at `to`, or with `replace` when it is seen to be open for writing.
  virtual Status rename(const std::string& from, const std::string& to, bool replace) = 0;
  virtual Status remove(const std::string& path) = 0;
  // Removes a file that create() made and whose NewFile is gone, also because its process died. False: it
  // was left alone, since somebody still holds it or since that can't be told here (the default; network
  // file systems without locks).
  virtual Result<bool> remove_abandoned(const std::string&) { return false; }
  // One level; succeeds when a folder is there already.
  virtual Status make_folder(const std::string& path, std::uint32_t mode) = 0;
  // The names in the folder are on the disk when this returns.
  virtual Status sync_folder(const std::string& path) = 0;

  // The rest is needed by who moves whole photographs. By default it is refused with Cause::unsupported.

  // Cause::unsupported when it is a symbolic link or no regular file. With `from_device` the system is asked
  // to forget what it holds of the file in memory, so that what is read is what was stored (best effort).
  virtual Result<std::unique_ptr<OpenFile>> open(const std::string& path, bool from_device);
  // Writes go to the end of `path`, which must be there.
  virtual Result<std::unique_ptr<NewFile>> append(const std::string& path);
  // Atomic; fails when anything is at `to`.
  virtual Result<Renamed> rename_on_device(const std::string& from, const std::string& to);
  // An error when names in the folder can't be made or removed: permissions, a read-only file system.
  virtual Status check_writable(const std::string& folder);
  // Cause::unsupported when another process holds the folder. Where there are no such locks (some network
  // shares) everybody gets one.
  virtual Result<std::unique_ptr<FolderHold>> hold(const std::string& folder);
};

// POSIX calls; interrupted calls are resumed, short writes continued.
class RealFileSystem final : public FileSystem {
 public:
  Result<ByteBuffer> read_file(const std::string& path, std::uint64_t max_bytes) override;
  Result<std::optional<FileStat>> stat(const std::string& path) override;
  Result<std::vector<std::string>> list(const std::string& path) override;
  Result<std::unique_ptr<NewFile>> create(const std::string& path, std::uint32_t mode) override;
  Status rename(const std::string& from, const std::string& to, bool replace) override;
  Status remove(const std::string& path) override;
  Result<bool> remove_abandoned(const std::string& path) override;
  Status make_folder(const std::string& path, std::uint32_t mode) override;
  Status sync_folder(const std::string& path) override;
  Result<std::unique_ptr<OpenFile>> open(const std::string& path, bool from_device) override;
  Result<std::unique_ptr<NewFile>> append(const std::string& path) override;
  Result<Renamed> rename_on_device(const std::string& from, const std::string& to) override;
  Status check_writable(const std::string& folder) override;
  Result<std::unique_ptr<FolderHold>> hold(const std::string& folder) override;
};

// "a/b/c" -> "a/b"; "c" -> "."; "/c" -> "/".
std::string folder_of(const std::string& path);
// "a/b/c" -> "c".
std::string leaf_of(const std::string& path);
// `folder` and everything above it, as far as it is missing; each new folder is synced into its parent.
Status make_folders(FileSystem& fs, const std::string& folder, std::uint32_t mode);

}  // namespace burstsieve
