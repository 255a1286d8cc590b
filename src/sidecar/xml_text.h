// Names and character data of XML, apart from where they stand.
#pragma once
#include <optional>
#include <string>
#include <string_view>

namespace burstsieve::sidecar {

// What stands between '&' and ';': a predefined entity or a reference to a character that XML allows.
std::optional<std::string> entity(std::string_view name);

// `raw` attribute value or text with the predefined entities and character references resolved; what can't be
// resolved stays as it is.
std::string unescaped(std::string_view raw);
// Text for an element or a double-quoted attribute.
std::string escaped(std::string_view plain);

// Namespaces in XML 1.0 §3, production NCName: a name without a colon. Valid UTF-8.
bool is_ncname(std::string_view name);

}  // namespace burstsieve::sidecar
