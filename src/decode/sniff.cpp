#include "burstsieve/decode/sniff.h"

#include <algorithm>
#include <array>
#include <cstring>
#include <vector>

#include "burstsieve/base/text.h"
#include "tiff_tags.h"

namespace burstsieve::decode {
namespace {

bool has(Bytes head, std::size_t at, std::string_view magic) {
  return head.size() >= at + magic.size() &&
         std::memcmp(head.data() + at, magic.data(), magic.size()) == 0;  // size checked just before
}

std::string upper_suffix(std::string_view name) {
  const auto dot = name.rfind('.');
  if (dot == std::string_view::npos) return {};
  std::string out = lower_ascii(name.substr(dot + 1));
  for (char& c : out)
    if (c >= 'a' && c <= 'z') c = static_cast<char>(c - 'a' + 'A');
  return out;
}

// Suffixes of raw files whose container is TIFF.
bool is_tiff_raw_suffix(std::string_view suffix) {
  static constexpr std::array<std::string_view, 25> known{
      "3FR", "ARW", "CR2", "DCR", "DCS", "DNG", "ERF", "FFF", "GPR", "IIQ", "K25", "KDC", "MDC",
      "MEF", "MOS", "NEF", "NRW", "ORF", "PEF", "PTX", "RW2", "SR2", "SRF", "SRW", "CAP"};
  return std::find(known.begin(), known.end(), suffix) != known.end();
}

// The raw format a maker puts into a TIFF container.
std::string format_of_make(std::string_view make) {
  struct Row {
    std::string_view make, format;
  };
  static constexpr std::array<Row, 14> rows{{{"nikon", "NEF"},
                                             {"sony", "ARW"},
                                             {"pentax", "PEF"},
                                             {"ricoh", "PEF"},
                                             {"samsung", "SRW"},
                                             {"hasselblad", "3FR"},
                                             {"epson", "ERF"},
                                             {"seiko epson", "ERF"},
                                             {"leaf", "MOS"},
                                             {"kodak", "DCR"},
                                             {"eastman kodak", "DCR"},
                                             {"phase one", "IIQ"},
                                             {"mamiya", "MEF"},
                                             {"canon", "CR2"}}};
  for (const Row& r : rows)
    if (make.starts_with(r.make)) return std::string(r.format);
  return "RAW";
}

// What the directories of a TIFF say about it.
struct TiffFacts {
  std::string make;
  bool dng = false;           // DNGVersion
  bool mosaic = false;        // a colour filter array, or a compression only raw files use
  bool out_of_head = false;   // some directory lies beyond the bytes given
  bool directory_ok = false;  // at least one directory was read
};

// The compressions are of exiftool's table.
bool raw_compression(std::uint32_t c) {
  // Sony, packed NEF, Samsung (2), NEF, Kodak (2), Pentax.
  return c == 32767 || c == 32769 || c == 32770 || c == 32772 || c == 34713 || c == 65000 || c == 65535;
}

class TiffWalk {
 public:
  TiffWalk(Bytes head, ByteOrder order) : head_(head), order_(order) {}

  TiffFacts run(std::uint32_t first) {
    wanted_.push_back(first);
    // A cyclic chain ends because no offset is visited twice.
    for (std::size_t i = 0; i < wanted_.size(); ++i) directory(wanted_[i]);
    return std::move(facts_);
  }

 private:
  // Bounded here and not in run(): one directory of 64 KiB can name 87,000 others.
  void want(std::uint32_t offset) {
    constexpr std::size_t most = 32;  // twice what any camera writes
    if (offset != 0 && wanted_.size() < most &&
        std::find(wanted_.begin(), wanted_.end(), offset) == wanted_.end())
      wanted_.push_back(offset);
  }

  void directory(std::uint32_t offset) {
    ByteReader r(head_, order_);
    if (!r.seek(offset)) {
      facts_.out_of_head = true;
      return;
    }
    const auto count = r.u16();
    const auto entries = count ? r.block(*count, 12) : Result<Bytes>(count.error());
    if (!entries) {
      facts_.out_of_head = true;
      return;
    }
    facts_.directory_ok = true;
    for (std::size_t i = 0; i < *count; ++i) entry(entries->subspan(i * 12, 12));
    if (const auto next = r.u32()) want(*next);
  }

  void entry(Bytes bytes) {
    ByteReader r(bytes, order_);
    const auto tag = r.u16();
    const auto type = r.u16();
    const auto count = r.u32();
    if (!tag || !type || !count) return;
    const Bytes inline_value = bytes.subspan(8, 4);
    switch (*tag) {
      case kDngVersion:
        facts_.dng = true;
        break;
      case kCfaPattern:
        facts_.mosaic = true;
        break;
      case kPhotometric:
        if (const auto v = number(inline_value, *type); v == kPhotometricCfa || v == kPhotometricLinearRaw)
          facts_.mosaic = true;
        break;
      case kCompression:
        if (raw_compression(number(inline_value, *type))) facts_.mosaic = true;
        break;
      case kMake:
        if (facts_.make.empty()) facts_.make = make(inline_value, *count);
        break;
      case kSubIfds:
        sub_directories(inline_value, *count);
        break;
      default:
        break;
    }
  }

  std::uint32_t number(Bytes value, std::uint16_t type) {
    ByteReader r(value, order_);
    if (type == 3) {
      const auto v = r.u16();
      return v ? *v : 0u;
    }
    const auto v = r.u32();
    return v ? *v : 0u;
  }

  std::string make(Bytes inline_value, std::uint32_t count) {
    if (count > 256) return {};
    ByteReader r(head_, order_);
    if (count > 4) {
      if (!r.seek(number(inline_value, 4))) return {};
    } else {
      r = ByteReader(inline_value, order_);
    }
    const auto text = r.block(count);
    if (!text) return {};
    return lower_ascii(trimmed({reinterpret_cast<const char*>(text->data()), text->size()}));
  }

  void sub_directories(Bytes inline_value, std::uint32_t count) {
    if (count == 1) return want(number(inline_value, 4));
    ByteReader r(head_, order_);
    if (!r.seek(number(inline_value, 4))) {
      facts_.out_of_head = true;
      return;
    }
    for (std::uint32_t i = 0; i < std::min(count, 16u); ++i) {
      const auto offset = r.u32();
      if (!offset) {
        facts_.out_of_head = true;
        return;
      }
      want(*offset);
    }
  }

  Bytes head_;
  ByteOrder order_;
  std::vector<std::uint32_t> wanted_;
  TiffFacts facts_;
};

std::optional<Sniffed> sniff_tiff(Bytes head, ByteOrder order, std::string_view name) {
  if (has(head, 8, "CR\x02")) return Sniffed{FileKind::raw, "CR2"};
  ByteReader r(head, order);
  if (!r.seek(4)) return std::nullopt;
  const auto first = r.u32();
  if (!first) return std::nullopt;
  const TiffFacts facts = TiffWalk(head, order).run(*first);
  const std::string suffix = upper_suffix(name);
  const bool raw_name = is_tiff_raw_suffix(suffix);
  if (facts.dng) return Sniffed{FileKind::raw, suffix == "GPR" ? "GPR" : "DNG"};
  if (facts.mosaic) return Sniffed{FileKind::raw, raw_name ? suffix : format_of_make(facts.make)};
  // No mosaic seen. With a camera's name inside and a raw suffix outside it is a raw whose mosaic directory
  // is further on or in the maker's private area; with the directories beyond the head, the content says
  // nothing against the suffix. (libtiff, for one, writes the directory last.)
  if (raw_name && (!facts.make.empty() || facts.out_of_head)) return Sniffed{FileKind::raw, suffix};
  return std::nullopt;
}

}  // namespace

std::optional<Sniffed> sniff(Bytes head, std::string_view name) {
  using namespace std::string_view_literals;
  const auto raw = [](const char* format) { return Sniffed{FileKind::raw, format}; };
  if (has(head, 0, "\xff\xd8\xff"sv)) return Sniffed{FileKind::jpeg, "JPEG"};
  if (has(head, 0, "II*\0"sv)) return sniff_tiff(head, ByteOrder::little, name);
  if (has(head, 0, "MM\0*"sv)) return sniff_tiff(head, ByteOrder::big, name);
  if (has(head, 0, "IIRO"sv) || has(head, 0, "IIRS"sv) || has(head, 0, "MMOR"sv)) return raw("ORF");
  if (has(head, 0, "IIU\0"sv)) return raw("RW2");
  if (has(head, 0, "FUJIFILMCCD-RAW"sv)) return raw("RAF");
  if (has(head, 6, "HEAPCCDR"sv) && (has(head, 0, "II"sv) || has(head, 0, "MM"sv))) return raw("CRW");
  if (has(head, 4, "ftypcrx "sv)) return raw("CR3");
  if (has(head, 0, "\0MRM"sv) || has(head, 0, "\0MRI"sv)) return raw("MRW");
  if (has(head, 0, "FOVb"sv)) return raw("X3F");
  if (has(head, 0x19, "ARECOYK"sv)) return raw("RAW");  // Contax N Digital: the maker's name backwards
  return std::nullopt;
}

}  // namespace burstsieve::decode
