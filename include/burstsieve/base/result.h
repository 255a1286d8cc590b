// Result<T>: a value, or the reason there is none. std only.
#pragma once
#include <cassert>
#include <string>
#include <utility>
#include <variant>

namespace burstsieve {

// The causes are closed because each decides what happens next, not how it is worded.
enum class Cause {
  io,           // the operating system refused; the text carries its word
  truncated,    // ran out of bytes: perhaps still being copied, worth another try later
  corrupt,      // the bytes contradict their format
  unsupported,  // valid, but not ours to read
  limit,        // larger, deeper or slower than Limits allows
  memory,       // memory ran out: may go right with nothing else at work
};

const char* name_of(Cause cause);

struct [[nodiscard]] Error {
  Cause cause{};
  std::string file;  // the path a person knows it by; empty where there is none
  std::string text;  // the reason, one line, for a person

  // "FILE: reason", always one line, control characters escaped.
  std::string line() const;
};

template <class T>
class [[nodiscard]] Result {
 public:
  Result(T value) : held_(std::in_place_index<0>, std::move(value)) {}      // NOLINT
  Result(Error error) : held_(std::in_place_index<1>, std::move(error)) {}  // NOLINT

  explicit operator bool() const noexcept { return held_.index() == 0; }
  T& operator*() & {
    assert(*this);
    return std::get<0>(held_);
  }
  const T& operator*() const& {
    assert(*this);
    return std::get<0>(held_);
  }
  T&& operator*() && {
    assert(*this);
    return std::get<0>(std::move(held_));
  }
  T* operator->() { return &**this; }
  const T* operator->() const { return &**this; }
  const Error& error() const {
    assert(!*this);
    return std::get<1>(held_);
  }

 private:
  std::variant<T, Error> held_;
};

// For functions that only succeed or fail.
struct Done {};
using Status = Result<Done>;

}  // namespace burstsieve
