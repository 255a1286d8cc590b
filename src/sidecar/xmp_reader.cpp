#include "xmp_reader.h"

#include <exception>
#include <exiv2/properties.hpp>
#include <exiv2/xmp_exiv2.hpp>
#include <map>

#include "burstsieve/decode/exiv2_gate.h"
#include "neutral_prefixes.h"

namespace burstsieve::sidecar {

namespace {

using Prefixes = std::map<std::string, std::string>;  // namespace to prefix

// The prefixes of namespaces that the library knows by itself, and ours. The library compares names by their
// usual prefixes ("rdf:li"), yet any file can rebind them for all files to come; each file is therefore
// handed over with these prefixes and no others of that spelling.
const Prefixes& known_prefixes() {
  static const Prefixes known = [] {
    Exiv2::Dictionary by_prefix;
    Exiv2::XmpProperties::registeredNamespaces(by_prefix);
    Prefixes out;
    for (const auto& [prefix, ns] : by_prefix) {
      const auto end = prefix.find_last_not_of(':');
      if (end != std::string::npos && ns != kXmlNs) out.emplace(ns, prefix.substr(0, end + 1));
    }
    out[std::string(kRdfNs)] = "rdf";
    out[std::string(kXmpNs)] = "xmp";
    out[std::string(kOurNs)] = kOurPrefix;
    return out;
  }();
  return known;
}

// exiv2's own table on top of the toolkit's: what an earlier file, perhaps a photograph, bound there.
void forget_other_files() {
  Exiv2::XmpProperties::unregisterNs();
  Exiv2::XmpProperties::registerNs(std::string(kOurNs), std::string(kOurPrefix));
}

std::vector<XmpProperty> flattened(const Exiv2::XmpData& data) {
  std::vector<XmpProperty> out;
  for (const Exiv2::Xmpdatum& d : data) {
    XmpProperty p;
    p.ns = Exiv2::XmpProperties::ns(d.groupName());
    p.path = d.tagName();
    p.type = d.typeName() != nullptr ? d.typeName() : "";
    p.value = d.toString();
    out.push_back(std::move(p));
  }
  return out;
}

}  // namespace

Result<std::vector<XmpProperty>> read_xmp(const XmlDocument& doc) {
  const decode::Exiv2Gate gate;
  try {
    forget_other_files();
    const std::string packet = with_neutral_prefixes(doc, known_prefixes());
    Exiv2::XmpData data;
    if (Exiv2::XmpParser::decode(data, packet) != 0)
      return Error{Cause::corrupt, {}, "is not readable as XMP"};
    return flattened(data);
  } catch (const std::exception& e) {
    return Error{Cause::corrupt, {}, std::string("is not readable as XMP: ") + e.what()};
  } catch (...) {
    return Error{Cause::corrupt, {}, "is not readable as XMP"};
  }
}

}  // namespace burstsieve::sidecar
