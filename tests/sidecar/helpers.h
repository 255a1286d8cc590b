#pragma once
#include <sys/wait.h>

#include <array>
#include <cstdio>
#include <stdexcept>
#include <string>
#include <string_view>

#include "burstsieve/sidecar/merge.h"

namespace burstsieve::test {

inline ByteBuffer bytes_of(std::string_view text) {
  return {text.begin(), text.end()};
}
inline std::string text_of(const ByteBuffer& bytes) {
  return {bytes.begin(), bytes.end()};
}

// Standard output of a command that must succeed.
inline std::string output_of(const std::string& command) {
  FILE* pipe = ::popen(command.c_str(), "r");
  if (pipe == nullptr) throw std::runtime_error("cannot run " + command);
  std::string out;
  std::array<char, 4096> buffer{};
  for (std::size_t n; (n = std::fread(buffer.data(), 1, buffer.size(), pipe)) > 0;)
    out.append(buffer.data(), n);
  if (::pclose(pipe) != 0) throw std::runtime_error("failed: " + command);
  return out;
}

inline SidecarEntry entry_with(std::optional<int> rating) {
  SidecarEntry e;
  e.verdict.rating = rating;
  e.verdict.verdict = !rating ? Verdict::undecided : *rating < 0 ? Verdict::reject : Verdict::keep;
  e.verdict.reasons = {
      {"soft", "edges 3.25 px wide, limit 2.5 px <on the \"head\" & eye>", 3.25, "px", 2.5, .8}};
  e.verdict.pose = 2;
  e.verdict.place = 3;
  e.verdict.better = "IMG_0007.CR3";
  e.measures = {{"blur_sigma_px", 1.0 / 3, "px", .9, "jpeg"}, {"white_clipped_r", .015, "", .7, "jpeg"}};
  e.frame_key = "0123456789abcdef";
  e.engine_version = "0.1.0";
  return e;
}

// A packet with `inside` between the tags of rdf:RDF.
inline std::string packet(const std::string& inside) {
  return "<x:xmpmeta xmlns:x=\"adobe:ns:meta/\">\n <rdf:RDF "
         "xmlns:rdf=\"http://www.w3.org/1999/02/22-rdf-syntax-ns#\">\n" +
         inside + "\n </rdf:RDF>\n</x:xmpmeta>\n";
}
inline std::string rated(const std::string& rating) {
  return packet("  <rdf:Description rdf:about=\"\" xmlns:xmp=\"http://ns.adobe.com/xap/1.0/\" xmp:Rating=\"" +
                rating + "\"/>");
}

}  // namespace burstsieve::test
