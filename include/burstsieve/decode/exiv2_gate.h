// One door to exiv2 for the whole process.
#pragma once
#include <cstddef>
#include <mutex>
#include <string>

namespace burstsieve::decode {

// What exiv2 logged: it passes over damage silently otherwise.
struct Exiv2Complaints {
  std::size_t count = 0;
  std::string first_error;  // one line, for a person; empty when there were only warnings
};

// exiv2's XMP parser and its namespace table are shared by all threads and crash or mix up when used by two,
// even with the lock function it offers. Hold this around every exiv2 call that reads or writes a file or XMP
// (.1 ms each for metadata). It also prepares exiv2: XMP parser, ISO media containers, and a log handler that
// prints nothing.
class Exiv2Gate {
 public:
  Exiv2Gate();
  // Since the last call, or since the gate was locked.
  Exiv2Complaints take_complaints();

 private:
  std::unique_lock<std::mutex> lock_;
};

}  // namespace burstsieve::decode
