// Promise: the metadata of any bytes at all is a sound Capture, or an error that says why; the libraries
// behind it stay behind their doors.
#include "burstsieve/decode/metadata.h"
#include "burstsieve/decode/sniff.h"
#include "support/capture_promises.h"
#include "support/memory_file.h"
#include "support/target.h"

using namespace burstsieve;

int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const Bytes bytes(data, size);
  const fuzz::MemoryFile file(bytes);
  const auto kind = decode::sniff(bytes, "A.NEF");
  const bool raw = kind && kind->kind == FileKind::raw;
  const auto c = decode::read_capture_at(file.path(), raw, Limits{});
  if (!c) {
    fuzz::require(c.error().cause == Cause::io || c.error().cause == Cause::limit,
                  "damage is a note, not an error");
    fuzz::refused(c.error());
    return 0;
  }
  fuzz::require_sound(*c);
  fuzz::came_out(std::string(c->make.empty() ? "nothing known" : "camera known") +
                 (c->notes.empty() ? "" : ", noted"));
  return 0;
}
