// A document for a reader that keeps one table of prefixes for all files.
#pragma once
#include <map>
#include <string>

#include "xml_scan.h"

namespace burstsieve::sidecar {

// The same document with every prefix replaced by one that is a function of its namespace alone (that of
// `known`, namespace to prefix, or else a hash), and no default namespaces: files that bind one prefix to
// different namespaces can then not be mixed up. Without byte order mark and XML declaration: it is UTF-8,
// whatever the file was in. Character references
// are decimal.
std::string with_neutral_prefixes(const XmlDocument& doc, const std::map<std::string, std::string>& known);

}  // namespace burstsieve::sidecar
