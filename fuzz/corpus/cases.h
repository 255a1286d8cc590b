// Inputs for the fuzz targets: the hostile ones that we made by hand, and seeds from our own encoders.
#pragma once
#include <string>
#include <vector>

#include "burstsieve/base/bytes.h"

namespace burstsieve::fuzz {

struct Case {
  std::string target;  // "tiff"
  std::string name;    // "ifd-loops-to-itself.tif": says what is wrong with it
  ByteBuffer bytes;
};
using Cases = std::vector<Case>;

// Hostile cases, one file of this folder per target. What must come of each stands in
// fuzz/hostile/TARGET.txt.
void add_maker_notes(Cases& to);
void add_jpegs(Cases& to);
void add_tiffs(Cases& to);
void add_mosaics(Cases& to);
void add_previews(Cases& to);
void add_containers(Cases& to);  // sniff, raw_header, capture
void add_records(Cases& to);
void add_sidecars(Cases& to);  // merge, xml_scan; the short ones are files in fuzz/hostile/merge
void add_pipe_records(Cases& to);
void add_texts(Cases& to);

// Valid inputs by our own encoders.
void add_own_seeds(Cases& to);
// What the metadata reader hands the makers for each file in `folder`: seeds for maker_notes.
void add_recorded_notes(const std::string& folder, Cases& to);

}  // namespace burstsieve::fuzz
