// What the commands print. Nobody taking it (a full disk, a closed pipe) is no reason to leave the work
// undone: printing never fails, and lost_output() tells at the end.
#pragma once
#include <fmt/format.h>

#include <cstdio>
#include <string_view>
#include <utility>

namespace burstsieve::tool {

void put(std::FILE* to, std::string_view text);

template <class... T>
void say(fmt::format_string<T...> format, T&&... values) {
  put(stdout, fmt::format(format, std::forward<T>(values)...));
}

template <class... T>
void complain(fmt::format_string<T...> format, T&&... values) {
  put(stderr, fmt::format(format, std::forward<T>(values)...));
}

// Hands over what is buffered. True, with a line on stderr, when anything on stdout was lost.
bool lost_output();

// A process may be started with standard input, output or error closed. The next file opened would take that
// number, and what is printed would go into it: a record, a photograph's copy. False when /dev/null is not to
// be had either.
bool open_standard_files();

// For commands that change something: a reader that goes away must not end them.
void outlive_readers();

}  // namespace burstsieve::tool
