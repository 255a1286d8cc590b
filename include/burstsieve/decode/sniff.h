// What a file is, by its content.
#pragma once
#include <optional>
#include <string>
#include <string_view>

#include "burstsieve/base/bytes.h"
#include "burstsieve/model/frame.h"

namespace burstsieve::decode {

struct Sniffed {
  FileKind kind;
  std::string
      format;  // "JPEG", "CR2", "CR3", "NEF", "ARW", "RAF", "ORF", "RW2", "PEF", "DNG", "CRW", ... or "RAW"
};

// `head`: the first bytes of the file (64 KiB is plenty). `name`: the file's name; used only to tell apart
// formats that share a container (TIFF-based raws) and never to accept a file whose content is something
// else. Nothing: not a photograph we read (PNG, movie, plain TIFF, text, ...).
std::optional<Sniffed> sniff(Bytes head, std::string_view name);

}  // namespace burstsieve::decode
