// Sidecars on file systems that are full, read-only, shared or oddly named; photographs beside them.
#include <doctest/doctest.h>
#include <sys/mount.h>
#include <sys/stat.h>
#include <sys/xattr.h>
#include <unistd.h>

#include <algorithm>
#include <cstring>
#include <map>

#include "base/as_nobody.h"
#include "base/memory_file_system.h"
#include "base/temp_folder.h"
#include "burstsieve/sidecar/restore.h"
#include "burstsieve/sidecar/writer.h"
#include "sidecar/helpers.h"

using namespace burstsieve;
using namespace burstsieve::test;

namespace {

// A small file system in memory, mounted for one test. Only the superuser can.
class SmallDisk {
 public:
  explicit SmallDisk(const std::string& options) {
    mounted = ::mount("tmpfs", folder.path.c_str(), "tmpfs", 0, options.c_str()) == 0;
    if (!mounted) MESSAGE("no right to mount a small disk: not tried");
  }
  SmallDisk(const SmallDisk&) = delete;
  SmallDisk& operator=(const SmallDisk&) = delete;
  ~SmallDisk() {
    if (mounted) ::umount2(folder.path.c_str(), MNT_DETACH);
  }
  bool make_read_only() const {
    return ::mount("tmpfs", folder.path.c_str(), "tmpfs", MS_REMOUNT | MS_RDONLY, nullptr) == 0;
  }
  TempFolder folder;
  bool mounted = false;
};

// Everything the system knows about a file but when it was last read.
struct Facts {
  struct stat stat {};
  std::string bytes;
  std::map<std::string, std::string> attributes;

  Facts(const TempFolder& folder, const std::string& name) : bytes(folder.read(name)) {
    const std::string path = folder.at(name);
    REQUIRE(::lstat(path.c_str(), &stat) == 0);
    stat.st_atim = {};
    std::string names(4096, '\0');
    const auto size = ::llistxattr(path.c_str(), names.data(), names.size());
    for (ssize_t at = 0; at < size;) {
      const std::string attribute = names.c_str() + at;
      at += static_cast<ssize_t>(attribute.size()) + 1;
      std::string value(4096, '\0');
      const auto length = ::lgetxattr(path.c_str(), attribute.c_str(), value.data(), value.size());
      attributes[attribute] = value.substr(0, static_cast<std::size_t>(std::max<ssize_t>(length, 0)));
    }
  }
  bool operator==(const Facts& o) const {
    return std::memcmp(&stat, &o.stat, sizeof stat) == 0 && bytes == o.bytes && attributes == o.attributes;
  }
};

Frame frame_of(const std::string& path) {
  Frame f;
  f.raw.emplace();
  f.raw->path = path;
  f.raw->kind = FileKind::raw;
  return f;
}

bool no_temporary(const std::vector<std::string>& names) {
  return std::none_of(names.begin(), names.end(),
                      [](const std::string& n) { return n.find(".burstsieve-") != std::string::npos; });
}

}  // namespace

TEST_SUITE("sidecar/on disk") {
  TEST_CASE("photographs: inode, size, times, owner, permissions, links, attributes and bytes stay") {
    TempFolder folder;
    RealFileSystem fs;
    folder.write("A.CR3", "a photograph");
    folder.write("B.CR3", "another");
    REQUIRE(::link(folder.at("B.CR3").c_str(), folder.at("C.CR3").c_str()) == 0);
    REQUIRE(::symlink("A.CR3", folder.at("D.CR3").c_str()) == 0);
    REQUIRE(::chmod(folder.at("A.CR3").c_str(), 0444) == 0);
    REQUIRE(::chmod(folder.at("B.CR3").c_str(), 0640) == 0);
    if (::geteuid() == 0) REQUIRE(::chown(folder.at("B.CR3").c_str(), 65534, 65534) == 0);
    const bool tagged = ::setxattr(folder.at("A.CR3").c_str(), "user.note", "quay", 4, 0) == 0;
    const struct timespec old[2] = {{1'000'000'000, 5}, {1'000'000'001, 7}};
    REQUIRE(::utimensat(AT_FDCWD, folder.at("B.CR3").c_str(), old, 0) == 0);

    const std::vector<std::string> names{"A.CR3", "B.CR3", "C.CR3", "D.CR3"};
    std::vector<Facts> before;
    for (const auto& name : names) before.emplace_back(folder, name);
    CHECK(before[0].attributes.count("user.note") == static_cast<std::size_t>(tagged));
    for (const SidecarNaming naming : {SidecarNaming::as_found, SidecarNaming::plain})
      for (const auto& name : names) {
        SidecarOptions options;
        options.naming = naming;
        const auto places = sidecar_places(frame_of(folder.at(name)), options, fs);
        REQUIRE(places);
        for (const int rating : {3, -1}) REQUIRE(write_sidecar(fs, places->at(0), entry_with(rating), false));
        REQUIRE(read_override(fs, places->at(0)));
      }
    const ByteBuffer ours = bytes_of(folder.read("A.CR3.xmp"));
    CHECK(*restore_sidecar(fs, folder.at("A.CR3.xmp"), {}, contents_sum(ours), false) == Restored::removed);
    for (std::size_t i = 0; i < names.size(); ++i)
      CHECK_MESSAGE((Facts(folder, names[i]) == before[i]), names[i]);
  }

  TEST_CASE("an existing sidecar keeps permissions, owner and group; undo as well") {
    TempFolder folder;
    RealFileSystem fs;
    folder.write("a.xmp", rated("0"));
    const std::string path = folder.at("a.xmp");
    if (::geteuid() == 0) REQUIRE(::chown(path.c_str(), 65534, 1234) == 0);
    REQUIRE(::chmod(path.c_str(), 0646) == 0);
    const auto before = *fs.stat(path);
    const auto plan = plan_sidecar(fs, {path, {}}, entry_with(3));
    REQUIRE(plan);
    const auto kept = [&] {
      const auto now = *fs.stat(path);
      return now->mode == before->mode && now->owner == before->owner && now->group == before->group;
    };
    REQUIRE(apply_plan(fs, *plan));
    CHECK(kept());
    REQUIRE(restore_sidecar(fs, path, Bytes(plan->before), contents_sum(plan->after), false));
    CHECK(kept());
    CHECK(folder.read("a.xmp") == rated("0"));
  }

  TEST_CASE("a full disk: an error that says so, the old sidecar whole, nothing left behind") {
    const SmallDisk disk("size=64k");
    if (!disk.mounted) return;
    RealFileSystem fs;
    disk.folder.write("old.xmp", rated("0"));
    disk.folder.write("fill", std::string(1 << 20, 'x'));  // as much as fits
    for (const std::string name : {"old.xmp", "new.xmp"}) {
      const auto done = write_sidecar(fs, {disk.folder.at(name), {}}, entry_with(3), false);
      REQUIRE_FALSE(done);
      CHECK(done.error().line() == disk.folder.at(name) + ": cannot write: No space left on device");
    }
    CHECK(disk.folder.read("old.xmp") == rated("0"));
    CHECK(*fs.list(disk.folder.path) == std::vector<std::string>{"fill", "old.xmp"});
    REQUIRE(::truncate(disk.folder.at("fill").c_str(), 0) == 0);
    CHECK(write_sidecar(fs, {disk.folder.at("new.xmp"), {}}, entry_with(3), false));
  }

  TEST_CASE("no inode left: the same") {
    const SmallDisk disk("size=64k,nr_inodes=3");
    if (!disk.mounted) return;
    RealFileSystem fs;
    disk.folder.write("old.xmp", rated("0"));
    disk.folder.write("fill", "");
    const auto done = write_sidecar(fs, {disk.folder.at("old.xmp"), {}}, entry_with(3), false);
    REQUIRE_FALSE(done);
    CHECK(done.error().line() == disk.folder.at("old.xmp") + ": cannot create: No space left on device");
    CHECK(disk.folder.read("old.xmp") == rated("0"));
  }

  TEST_CASE("read-only media: an error that says so; with a folder elsewhere all goes well") {
    const SmallDisk disk("size=256k");
    if (!disk.mounted) return;
    RealFileSystem fs;
    REQUIRE(make_folders(fs, disk.folder.at("DCIM"), 0755));
    disk.folder.write("DCIM/A.CR3", "a photograph");
    disk.folder.write("DCIM/B.CR3", "another");
    disk.folder.write("DCIM/B.xmp", rated("5"));
    REQUIRE(disk.make_read_only());
    const Frame a = frame_of(disk.folder.at("DCIM/A.CR3")), b = frame_of(disk.folder.at("DCIM/B.CR3"));
    const auto beside = write_sidecar(fs, sidecar_places(a, {}, fs)->at(0), entry_with(3), false);
    REQUIRE_FALSE(beside);
    CHECK(beside.error().line() == disk.folder.at("DCIM/A.xmp") + ": cannot create: Read-only file system");

    TempFolder out;
    SidecarOptions options;
    options.folder = out.at("sidecars");
    options.root = disk.folder.path;
    const auto elsewhere = sidecar_places(a, options, fs);
    REQUIRE(elsewhere);
    CHECK(elsewhere->at(0).path == out.at("sidecars/DCIM/A.xmp"));  // the card's own naming
    CHECK(write_sidecar(fs, elsewhere->at(0), entry_with(3), false)->change == SidecarChange::created);
    CHECK(write_sidecar(fs, sidecar_places(b, options, fs)->at(0), entry_with(3), false)->change ==
          SidecarChange::human);
    CHECK(*fs.list(out.at("sidecars/DCIM")) == std::vector<std::string>{"A.xmp"});
  }

  TEST_CASE("any step that fails: the old sidecar or the new, whole, and no temporary file") {
    const ByteBuffer old = bytes_of(rated("0"));
    const ByteBuffer updated = merge(old, entry_with(3))->bytes, created = merge({}, entry_with(3))->bytes;
    for (const bool exists : {true, false})
      for (int at = 1;; ++at) {
        INFO("operation " << at);
        MemoryFileSystem fs;
        if (exists) fs.put("d/a.xmp", old);
        fs.fault = Fault::fail;
        fs.at = at;
        const auto done = write_sidecar(fs, {"d/a.xmp", {}}, entry_with(3), false);
        const auto& names = fs.names();
        for (const auto& [name, node] : names) CHECK(name.find(".tmp") == std::string::npos);
        const auto found = names.find("d/a.xmp");
        if (done) {
          CHECK((found->second->live == (exists ? updated : created)));
        } else {
          CHECK_FALSE(done.error().file.empty());
          if (found != names.end())
            CHECK((found->second->live == old || found->second->live == updated ||
                   found->second->live == created));
          CHECK((!exists || found != names.end()));
        }
        // Once the disk works again, so does the next run.
        fs.fault = Fault::none;
        CHECK(write_sidecar(fs, {"d/a.xmp", {}}, entry_with(3), false));
        CHECK((fs.names().at("d/a.xmp")->live == (exists ? updated : created)));
        if (fs.operations < at) break;
      }
  }

  TEST_CASE("permission denied: to the folder, to read the sidecar, to look into the folder") {
    TempFolder folder;
    RealFileSystem fs;
    REQUIRE(::chmod(folder.path.c_str(), 0777) == 0);
    folder.write("a.xmp", rated("0"));
    REQUIRE(::chmod(folder.at("a.xmp").c_str(), 0200) == 0);
    REQUIRE(make_folders(fs, folder.at("locked"), 0700));
    folder.write("locked/b.xmp", rated("0"));
    REQUIRE(::chmod(folder.at("locked").c_str(), 0000) == 0);
    {
      const AsNobody nobody;
      const auto unreadable = write_sidecar(fs, {folder.at("a.xmp"), {}}, entry_with(3), false);
      REQUIRE_FALSE(unreadable);
      CHECK(unreadable.error().line() == folder.at("a.xmp") + ": cannot open: Permission denied");
      const auto locked = write_sidecar(fs, {folder.at("locked/b.xmp"), {}}, entry_with(3), false);
      REQUIRE_FALSE(locked);
      CHECK(locked.error().line() == folder.at("locked/b.xmp") + ": cannot stat: Permission denied");
      CHECK_FALSE(sidecar_places(frame_of(folder.at("locked/b.CR3")), {}, fs));
    }
    REQUIRE(::chmod(folder.at("locked").c_str(), 0700) == 0);
    CHECK(folder.read("a.xmp") == rated("0"));
    CHECK(folder.read("locked/b.xmp") == rated("0"));
    CHECK(no_temporary(*fs.list(folder.path)));
  }

  TEST_CASE("names of any bytes: Latin-1, line ends, quotes, markup; the longest there are") {
    TempFolder folder;
    RealFileSystem fs;
    for (const std::string name : {"Z\xfcri.CR3", "two\nlines.CR3", "it's \"one\".CR3", "<a>&b;.CR3",
                                   "-o.CR3", " .CR3", "\xff\xfe.CR3"}) {
      folder.write(name, "a photograph");
      SidecarEntry entry = entry_with(3);
      entry.verdict.better = name;
      const auto places = sidecar_places(frame_of(folder.at(name)), {}, fs);
      REQUIRE(places);
      CHECK(places->at(0).path == folder.at(name + ".xmp"));
      CHECK(write_sidecar(fs, places->at(0), entry, false)->change == SidecarChange::created);
      CHECK(write_sidecar(fs, places->at(0), entry, false)->change == SidecarChange::unchanged);
      // An error about it is still one line.
      folder.write(name + ".xmp", "<cut");
      const auto done = write_sidecar(fs, places->at(0), entry, false);
      REQUIRE_FALSE(done);
      CHECK(done.error().line().find('\n') == std::string::npos);
      CHECK(folder.read(name + ".xmp") == "<cut");
    }
    for (const std::size_t length : {247u, 248u, 251u}) {  // NAME.CR3.xmp of 255 bytes, then NAME.xmp only
      const std::string stem(length, 'n');
      const auto places = sidecar_places(frame_of(folder.at(stem + ".CR3")), {}, fs);
      REQUIRE(places);
      CHECK(write_sidecar(fs, places->at(0), entry_with(3), false)->change == SidecarChange::created);
      CHECK(write_sidecar(fs, places->at(0), entry_with(4), false)->change == SidecarChange::updated);
      CHECK(leaf_of(places->at(0).path).size() ==
            std::min<std::size_t>(length + 8, length <= 247 ? 255 : length + 4));
    }
    CHECK(no_temporary(*fs.list(folder.path)));
  }

  TEST_CASE("something else in the sidecar's place: folder, link, pipe") {
    TempFolder folder;
    RealFileSystem fs;
    REQUIRE(::mkdir(folder.at("a.xmp").c_str(), 0700) == 0);
    REQUIRE(::mkfifo(folder.at("b.xmp").c_str(), 0600) == 0);
    folder.write("photo.CR3", "a photograph");
    REQUIRE(::symlink("photo.CR3", folder.at("c.xmp").c_str()) == 0);
    const auto reason = [&](const std::string& name) {
      const auto done = write_sidecar(fs, {folder.at(name), {}}, entry_with(3), false);
      REQUIRE_FALSE(done);
      CHECK(done.error().file == folder.at(name));
      return done.error().text;
    };
    CHECK(reason("a.xmp") == "is not a regular file");
    CHECK(reason("b.xmp") == "is not a regular file");
    CHECK(reason("c.xmp") == "is a symbolic link, left alone");
    CHECK(folder.read("photo.CR3") == "a photograph");
    CHECK(fs.list(folder.path)->size() == 4);
  }
}
