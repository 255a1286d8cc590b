// What a single file may cost. Each limit carries its evidence; a file beyond one is refused with
// Cause::limit.
#pragma once
#include <cstddef>
#include <cstdint>

namespace burstsieve {

struct Limits {
  // Largest sensor known in 2026: 151 MP; doubled.
  std::uint64_t max_pixels = 300'000'000;
  // The longest side a JPEG can state is 65,535; no camera frame exceeds a third of it.
  std::uint32_t max_side = 65'000;
  // A 151 MP 16-bit uncompressed raw is 302 MB; doubled.
  std::uint64_t max_file_bytes = 640ull << 20;
  // Processor seconds of its thread that one decode may take. A 45 MP lossless-JPEG raw takes about 1 s on a
  // slow core.
  double max_decode_seconds = 20;
  // libjpeg scans of a progressive file: real encoders write about 10; hundreds are an attack on time.
  int max_jpeg_scans = 100;
  // Folders below the given one; a card's DCIM tree is 2 deep, archives by date 4 or 5.
  int max_folder_depth = 32;
  // Files one run takes; ten full 512 GB cards of 25 MB frames are 205,000.
  std::size_t max_files = 2'000'000;
};

}  // namespace burstsieve
