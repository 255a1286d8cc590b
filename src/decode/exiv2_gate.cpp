#include "burstsieve/decode/exiv2_gate.h"

#include <exiv2/exiv2.hpp>
#include <utility>

#include "burstsieve/base/text.h"

namespace burstsieve::decode {
namespace {

std::mutex gate;
thread_local Exiv2Complaints complaints;

void note_complaint(int level, const char* text) {
  ++complaints.count;
  if (level < Exiv2::LogMsg::error || !complaints.first_error.empty() || text == nullptr) return;
  complaints.first_error = one_line(trimmed(std::string_view(text).substr(0, 200)));
}

}  // namespace

Exiv2Gate::Exiv2Gate() : lock_(gate) {
  static const bool prepared = Exiv2::enableBMFF(true);
  static_cast<void>(prepared);
  // A fresh namespace table for every visitor (.02 ms): one damaged packet inside a photograph leaves the
  // toolkit's table at odds with itself ("fatal namespace map problem"), and every later file of the run
  // would be refused for it.
  Exiv2::XmpProperties::unregisterNs();
  Exiv2::XmpParser::terminate();
  Exiv2::XmpParser::initialize();
  // Set anew each time: they are global, and other code in the process may have changed them.
  Exiv2::LogMsg::setHandler(note_complaint);
  Exiv2::LogMsg::setLevel(Exiv2::LogMsg::warn);
  complaints = {};
}

Exiv2Complaints Exiv2Gate::take_complaints() {
  return std::exchange(complaints, {});
}

}  // namespace burstsieve::decode
