// The file as LibRaw reads it, with an end to our patience: some of its header parsers go on reading behind
// the end of a damaged file for hours, without a progress call.
#pragma once
#include <libraw/libraw.h>

#include <functional>
#include <string>
#include <utility>

#include "deadline.h"

namespace burstsieve::decode {

class RawStream final : public LibRaw_file_datastream {
 public:
  RawStream(const std::string& path, const Deadline& deadline)
      : LibRaw_file_datastream(path.c_str()), deadline_(deadline) {}

  // From here on LibRaw may read as it likes: unpacking is bounded by the size of the picture, and an
  // exception must not leave the threads it may start.
  void headers_done() { headers_ = false; }

  // LibRaw does not clear the memory it unpacks into, and some decoders return without a word when the data
  // do not begin as they should: what stood there, perhaps another photograph, would pass for this one.
  // Between the two it seeks to the data, which is where `action` is called, once.
  void before_data(std::function<void()> action) { before_data_ = std::move(action); }

  int seek(INT64 offset, int whence) override {
    if (before_data_) std::exchange(before_data_, nullptr)();
    return LibRaw_file_datastream::seek(offset, whence);
  }

  int read(void* to, size_t size, size_t count) override {
    const int got = LibRaw_file_datastream::read(to, size, count);
    if (headers_) watch(got == 0);
    return got;
  }
  int get_char() override {
    const int got = LibRaw_file_datastream::get_char();
    if (headers_) watch(got < 0);
    return got;
  }

 private:
  // Throws what LibRaw throws itself and turns into an error code.
  void watch(bool fruitless) {
    constexpr int patience = 10'000;  // reads behind the end; whole files have none
    constexpr int stride = 4096;      // reads between two looks at the clock
    if (fruitless && ++fruitless_ > patience) throw LIBRAW_EXCEPTION_IO_EOF;
    if (++reads_ % stride == 0 && deadline_.passed()) throw LIBRAW_EXCEPTION_CANCELLED_BY_CALLBACK;
  }

  Deadline deadline_;
  std::function<void()> before_data_;
  bool headers_ = true;
  int fruitless_ = 0;
  unsigned reads_ = 0;
};

}  // namespace burstsieve::decode
