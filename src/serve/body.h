// The body of a request as JSON.
#pragma once
#include <nlohmann/json.hpp>
#include <optional>
#include <string>

namespace burstsieve::serve {

// Nothing for anything but an object nested a few levels deep.
std::optional<nlohmann::json> parse_object(const std::string& body);

}  // namespace burstsieve::serve
