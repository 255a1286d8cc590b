#include "neutral_prefixes.h"

#include <fmt/format.h>
#include <xxhash.h>

#include <algorithm>
#include <cstdint>
#include <vector>

#include "encoding.h"
#include "xml_text.h"

namespace burstsieve::sidecar {

namespace {

// The XMP toolkit inside exiv2 0.27 takes "&#x34;" (a hexadecimal reference of one or two digits) for a
// control character and drops it: "4" would be no rating. Decimal references are left alone there.
std::string with_decimal_references(const std::string& text) {
  std::string out;
  std::size_t at = 0;
  for (auto found = text.find("&#x"); found != std::string::npos; found = text.find("&#x", at)) {
    const auto end = text.find(';', found);
    const auto resolved = entity(std::string_view(text).substr(found + 1, end - found - 1));
    out.append(text, at, found - at);
    std::size_t first = 0;
    out += resolved ? fmt::format("&#{};", std::uint32_t{next_char(*resolved, first)}) : "&#x";
    at = resolved ? end + 1 : found + 3;
  }
  return out.append(text, at);
}

}  // namespace

std::string with_neutral_prefixes(const XmlDocument& doc, const std::map<std::string, std::string>& known) {
  std::string out;
  std::size_t at = doc.body;
  std::vector<std::string> declared;  // by the present start tag
  std::size_t previous_end = doc.body;
  for (const PrefixUse& use : doc.prefixes) {
    out += doc.text.substr(at, use.span.begin - at);
    at = use.span.end;
    const auto it = known.find(use.ns);
    const std::string prefix =
        it != known.end() ? it->second : fmt::format("n{:016x}", XXH64(use.ns.data(), use.ns.size(), 0));
    if (!use.declaration) {
      out += prefix + ":";
      continue;
    }
    // Two prefixes for one namespace in one tag become one declaration.
    if (doc.text.substr(previous_end, use.span.begin - previous_end).find('<') != std::string_view::npos)
      declared.clear();
    previous_end = use.span.end;
    if (use.ns.empty() || std::find(declared.begin(), declared.end(), use.ns) != declared.end()) continue;
    declared.push_back(use.ns);
    out += fmt::format(" xmlns:{}=\"{}\"", prefix, escaped(use.ns));
  }
  return with_decimal_references(out + std::string(doc.text.substr(at)));
}

}  // namespace burstsieve::sidecar
