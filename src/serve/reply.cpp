#include <nlohmann/json.hpp>

#include "burstsieve/base/text.h"
#include "burstsieve/serve/http.h"

namespace burstsieve::serve {

Reply refusal(int status, const std::string& text) {
  const nlohmann::json body{{"error", one_line(text)}};
  Reply out;
  out.status = status;
  out.body = body.dump(-1, ' ', false, nlohmann::json::error_handler_t::replace) + "\n";
  return out;
}

}  // namespace burstsieve::serve
