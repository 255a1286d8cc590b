// The block of our own properties, as XML text.
#pragma once
#include <string>
#include <string_view>

#include "burstsieve/sidecar/merge.h"
#include "xmp_reader.h"

namespace burstsieve::sidecar {

// How the record fits into a file.
struct RecordStyle {
  std::string_view about;         // raw value of rdf:about shared by the file's descriptions
  std::string indent = "  ";      // white space before its first line
  std::string_view lines = "\n";  // "\n", "\r\n" or "\r"
  std::string rdf = "rdf";        // prefixes
  std::string xmp = "xmp";
  std::string ours = std::string(kOurPrefix);
  bool declare_rdf = false;  // `rdf` stands for something else or nothing there
};

// An rdf:Description with everything in `entry`, and xmp:Rating when the entry has a rating. Deterministic.
std::string record_text(const SidecarEntry& entry, const RecordStyle& style);

// A whole sidecar with nothing else in it.
std::string fresh_sidecar(const SidecarEntry& entry);

}  // namespace burstsieve::sidecar
