#include "neutral_prefixes.h"

#include <fmt/format.h>
#include <xxhash.h>

#include <algorithm>
#include <vector>

#include "xml_text.h"

namespace burstsieve::sidecar {

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
  return out + std::string(doc.text.substr(at));
}

}  // namespace burstsieve::sidecar
