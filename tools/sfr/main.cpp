// burstsieve-sfr: the spatial frequency response of a slanted edge in a photograph.
#include <fmt/format.h>

#include <CLI/CLI.hpp>
#include <cstdio>
#include <fstream>
#include <iterator>
#include <nlohmann/json.hpp>

#include "burstsieve/decode/pixels.h"
#include "burstsieve/decode/sniff.h"
#include "burstsieve/image/orientation.h"
#include "burstsieve/image/transfer.h"
#include "slanted_edge.h"

namespace {

using namespace burstsieve;

int fail(const Error& e) {
  fmt::print(stderr, "burstsieve-sfr: {}\n", e.line());
  return 1;
}

Result<cv::Rect> parse_region(const std::string& text) {
  int x = 0, y = 0, w = 0, h = 0, used = 0;
  if (std::sscanf(text.c_str(), "%d,%d,%d,%d%n", &x, &y, &w, &h, &used) != 4 ||
      used != static_cast<int>(text.size()) || x < 0 || y < 0 || w <= 0 || h <= 0)
    return Error{
        Cause::unsupported, {}, "--region wants x,y,width,height in whole pixels, as 1200,800,120,160"};
  return cv::Rect(x, y, w, h);
}

// Luma of the picture as stored, undone to scene-linear light.
Result<cv::Mat> linear_luma(const std::string& path) {
  std::ifstream in(path, std::ios::binary);
  if (!in) return Error{Cause::io, path, "cannot be opened"};
  ByteBuffer head(64 * 1024);
  in.read(reinterpret_cast<char*>(head.data()), static_cast<std::streamsize>(head.size()));
  head.resize(static_cast<std::size_t>(in.gcount()));
  const auto kind = decode::sniff(head, path);
  if (!kind) return Error{Cause::unsupported, path, "not a photograph this program reads"};
  FileRef file;
  file.path = path;
  file.kind = kind->kind;
  file.format = kind->format;
  const auto planes = decode::decode_planes(file, 1, Limits{});
  if (!planes) return planes.error();
  if (!planes->damage.empty()) return Error{Cause::corrupt, path, planes->damage};
  return image::linear(planes->luma);
}

void print_text(const sfr::Response& r) {
  fmt::print("edge      {:.2f} degrees, {} rows, contrast {:.3f}\n", r.edge_degrees, r.rows, r.contrast);
  fmt::print("MTF50     {:.4f} cycles/px\nMTF10     {:.4f} cycles/px\n", r.mtf50, r.mtf10);
  if (r.first_null)
    fmt::print("null      {:.4f} cycles/px (motion over {:.1f} px, or a disc of {:.1f} px)\n", *r.first_null,
               1 / *r.first_null, 1.2197 / *r.first_null);
  fmt::print("\ncycles/px  response\n");
  for (std::size_t i = 0; i < r.frequency.size(); i += 4)
    fmt::print("{:9.3f}  {:8.4f}\n", r.frequency[i], r.value[i]);
}

void print_json(const std::string& path, const sfr::Response& r) {
  nlohmann::json out{{"file", path},
                     {"edge_degrees", r.edge_degrees},
                     {"rows", r.rows},
                     {"contrast", r.contrast},
                     {"mtf50", r.mtf50},
                     {"mtf10", r.mtf10},
                     {"frequency", r.frequency},
                     {"response", r.value}};
  if (r.first_null) out["first_null"] = *r.first_null;
  fmt::print("{}\n", out.dump(-1, ' ', false, nlohmann::json::error_handler_t::replace));
}

}  // namespace

int main(int argc, char** argv) {
  CLI::App app{
      "Spatial frequency response of a slanted edge (ISO 12233), from the luma of a JPEG or of a raw's "
      "preview,\n"
      "with the sRGB curve undone."};
  std::string file, region;
  sfr::Options options;
  bool json = false;
  app.add_option("FILE", file, "Photograph with the edge")->required();
  app.add_option("--region", region,
                 "x,y,width,height of the edge in pixels as stored; default: the whole picture");
  app.add_option("--degree", options.degree, "Degree of the polynomial along the edge; 1 for a straight one")
      ->check(CLI::Range(1, 5))
      ->capture_default_str();
  app.add_flag("--json", json, "One JSON object instead of text");
  CLI11_PARSE(app, argc, argv);

  const auto luma = linear_luma(file);
  if (!luma) return fail(luma.error());
  cv::Rect where(0, 0, luma->cols, luma->rows);
  if (!region.empty()) {
    const auto asked = parse_region(region);
    if (!asked) return fail(asked.error());
    if ((*asked & where) != *asked)
      return fail(
          {Cause::unsupported, file,
           fmt::format("the region reaches outside the picture of {} x {} px", luma->cols, luma->rows)});
    where = *asked;
  }
  const auto response = sfr::slanted_edge((*luma)(where), options);
  if (!response) return fail({response.error().cause, file, response.error().text});
  json ? print_json(file, *response) : print_text(*response);
  return 0;
}
