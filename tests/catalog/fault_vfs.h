// SQLite's own file system with a fault point at every write, sync, truncation and deletion: every state of
// the catalogue between two transactions, and inside one, that a killed process can leave.
#pragma once
#include <sqlite3.h>
#include <unistd.h>

#include <random>

#include "base/fault_point.h"

namespace burstsieve::test {

namespace fault_vfs {

struct File {
  sqlite3_file base;
  // SQLite's own file follows in memory.
};
inline sqlite3_vfs* real_vfs = nullptr;
inline FaultPoint* point = nullptr;
// Microseconds; above 0 every lock waits a random time up to this, so that processes that lock one file
// meet in every order and not only in the usual one.
inline int longest_pause_us = 0;

inline void pause() {
  if (longest_pause_us <= 0) return;
  static std::minstd_rand random{static_cast<unsigned>(::getpid())};
  ::usleep(std::uniform_int_distribution<unsigned>(0, static_cast<unsigned>(longest_pause_us))(random));
}

inline sqlite3_file* real(sqlite3_file* f) {
  return reinterpret_cast<sqlite3_file*>(reinterpret_cast<File*>(f) + 1);
}

template <class Do>
int step(Do doing) {
  if (point->reached(Kind::database)) return SQLITE_IOERR;
  const int code = doing();
  point->passed();
  return code;
}

inline const sqlite3_io_methods methods{
    3,
    [](sqlite3_file* f) { return real(f)->pMethods->xClose(real(f)); },
    [](sqlite3_file* f, void* to, int n, sqlite3_int64 at) {
      return real(f)->pMethods->xRead(real(f), to, n, at);
    },
    [](sqlite3_file* f, const void* from, int n, sqlite3_int64 at) {
      if (point->reached(Kind::database_write, [&] { real(f)->pMethods->xWrite(real(f), from, n / 2, at); }))
        return SQLITE_IOERR;
      const int code = real(f)->pMethods->xWrite(real(f), from, n, at);
      point->passed();
      return code;
    },
    [](sqlite3_file* f, sqlite3_int64 size) {
      return step([&] { return real(f)->pMethods->xTruncate(real(f), size); });
    },
    [](sqlite3_file* f, int flags) { return step([&] { return real(f)->pMethods->xSync(real(f), flags); }); },
    [](sqlite3_file* f, sqlite3_int64* size) { return real(f)->pMethods->xFileSize(real(f), size); },
    [](sqlite3_file* f, int lock) {
      pause();
      return real(f)->pMethods->xLock(real(f), lock);
    },
    [](sqlite3_file* f, int lock) { return real(f)->pMethods->xUnlock(real(f), lock); },
    [](sqlite3_file* f, int* out) { return real(f)->pMethods->xCheckReservedLock(real(f), out); },
    [](sqlite3_file* f, int op, void* arg) { return real(f)->pMethods->xFileControl(real(f), op, arg); },
    [](sqlite3_file* f) { return real(f)->pMethods->xSectorSize(real(f)); },
    [](sqlite3_file* f) { return real(f)->pMethods->xDeviceCharacteristics(real(f)); },
    [](sqlite3_file* f, int page, int size, int extend, void volatile** out) {
      return real(f)->pMethods->xShmMap(real(f), page, size, extend, out);
    },
    [](sqlite3_file* f, int offset, int n, int flags) {
      return real(f)->pMethods->xShmLock(real(f), offset, n, flags);
    },
    [](sqlite3_file* f) { real(f)->pMethods->xShmBarrier(real(f)); },
    [](sqlite3_file* f, int remove) { return real(f)->pMethods->xShmUnmap(real(f), remove); },
    [](sqlite3_file* f, sqlite3_int64 at, int n, void** out) {
      return real(f)->pMethods->xFetch(real(f), at, n, out);
    },
    [](sqlite3_file* f, sqlite3_int64 at, void* p) { return real(f)->pMethods->xUnfetch(real(f), at, p); }};

inline int open(sqlite3_vfs*, const char* name, sqlite3_file* f, int flags, int* out_flags) {
  f->pMethods = nullptr;
  const int code = real_vfs->xOpen(real_vfs, name, real(f), flags, out_flags);
  if (real(f)->pMethods != nullptr) f->pMethods = &methods;
  return code;
}

inline int remove(sqlite3_vfs*, const char* name, int sync) {
  return step([&] { return real_vfs->xDelete(real_vfs, name, sync); });
}

}  // namespace fault_vfs

// From now on every database of this process is opened through it.
inline void use_fault_vfs(FaultPoint& point) {
  static sqlite3_vfs vfs;
  fault_vfs::point = &point;
  fault_vfs::real_vfs = sqlite3_vfs_find(nullptr);
  vfs = *fault_vfs::real_vfs;
  vfs.zName = "faults";
  vfs.szOsFile += static_cast<int>(sizeof(fault_vfs::File));
  vfs.xOpen = fault_vfs::open;
  vfs.xDelete = fault_vfs::remove;
  sqlite3_vfs_register(&vfs, 1);
}

}  // namespace burstsieve::test
