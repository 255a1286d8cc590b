#include "detector_model.h"

#include <algorithm>
#include <array>
#include <cstdint>

#include "burstsieve/base/checksum.h"
#include "burstsieve/base/file_system.h"

namespace burstsieve::subject {
namespace {

constexpr std::uint64_t kModelBytes = 15'153'976;

// Three whole numbers as ONNX stores the shape that a Reshape asks for.
std::array<std::uint8_t, 24> shape_bytes(std::int64_t a, std::int64_t b, std::int64_t c) {
  std::array<std::uint8_t, 24> out{};
  std::size_t at = 0;
  for (const std::int64_t v : {a, b, c})
    for (int byte = 0; byte < 8; ++byte)
      out[at++] = static_cast<std::uint8_t>(static_cast<std::uint64_t>(v) >> (8 * byte));
  return out;
}

// The network is made of convolutions: only the six shapes of its outputs name the number of cells of 416x416
// pixels (52^2, 26^2, 13^2). -1 lets them follow from the picture. True when each was there once.
bool freed_of_size(ByteBuffer& model) {
  for (const std::int64_t values : {80, 44})
    for (const std::int64_t cells : {52 * 52, 26 * 26, 13 * 13}) {
      const auto wanted = shape_bytes(1, values, cells), any = shape_bytes(1, values, -1);
      const auto at = std::search(model.begin(), model.end(), wanted.begin(), wanted.end());
      if (at == model.end()) return false;
      std::copy(any.begin(), any.end(), at);
      if (std::search(at, model.end(), wanted.begin(), wanted.end()) != model.end()) return false;
    }
  return true;
}

}  // namespace

Result<ByteBuffer> read_detector_model(const std::string& path) {
  RealFileSystem fs;
  auto file = fs.read_file(path, kModelBytes);
  if (!file && file.error().cause == Cause::limit)
    return Error{Cause::unsupported, path,
                 "is not the subject detector that tools/setup.sh --detector makes"};
  if (!file) return file.error();
  Checksum sum;
  sum.add(*file);
  if (sum.text() != kDetectorChecksum || !freed_of_size(*file))
    return Error{Cause::unsupported, path,
                 "is damaged, or not the subject detector that tools/setup.sh --detector makes"};
  return file;
}

}  // namespace burstsieve::subject
