#include "settings.h"

#include <fmt/format.h>

#include <cstdlib>
#include <map>

#include "burstsieve/base/version.h"
#include "output.h"

namespace burstsieve::tool {

std::string default_config_path() {
  // XDG Base Directory Specification 0.8: a relative path there is to be ignored.
  if (const char* home = std::getenv("XDG_CONFIG_HOME"); home && home[0] == '/')
    return std::string(home) + "/burstsieve/config.toml";
  if (const char* home = std::getenv("HOME"); home && home[0] == '/')
    return std::string(home) + "/.config/burstsieve/config.toml";
  return {};
}

void add_catalog_option(CLI::App& app, Settings& s) {
  app.add_option("--catalog", s.catalog,
                 "Catalogue file (default: burstsieve/catalog.sqlite in the XDG data folder)")
      ->type_name("FILE");
}

void add_profile_option(CLI::App& app, Settings& s) {
  app.add_option("--profile", s.cull.profile, "Whose ratings teach, and whose taste counts (see preferences)")
      ->capture_default_str()
      ->type_name("NAME");
}

namespace {

void add_sidecar_options(CLI::App& app, Settings& s) {
  static const std::map<std::string, SidecarNaming> namings{{"as-found", SidecarNaming::as_found},
                                                            {"with-extension", SidecarNaming::with_extension},
                                                            {"plain", SidecarNaming::plain}};
  static const std::map<std::string, PairSharing> sharings{{"by-raw", PairSharing::by_raw},
                                                           {"each", PairSharing::each}};
  app.add_option(
         "--sidecar-naming", s.cull.sidecars.naming,
         "Name of new sidecars: with-extension writes NAME.EXT.xmp, plain writes NAME.xmp, as-found (the "
         "default) what most sidecars in the folder are, else NAME.EXT.xmp; existing ones are respected")
      ->transform(
          CLI::CheckedTransformer(namings, CLI::ignore_case).description("{as-found,with-extension,plain}"))
      ->type_name("HOW")
      ->group("Sidecars");
  app.add_option("--pairs", s.cull.sidecars.pairs,
                 "Sidecars of a raw+JPEG pair: one by the raw's name, or each its own")
      ->transform(CLI::CheckedTransformer(sharings, CLI::ignore_case).description("{by-raw,each}"))
      ->type_name("HOW")
      ->group("Sidecars");
  app.add_option("--sidecars", s.cull.sidecars.folder,
                 "Write the sidecars below this folder instead of beside the photographs")
      ->type_name("DIR")
      ->group("Sidecars");
  app.add_flag("--dry-run", s.cull.dry_run, "Do everything but write sidecars")->group("Sidecars");
}

void add_limit_options(CLI::App& app, Settings& s) {
  auto& p = s.cull.policy;
  app.add_option("--soft", p.soft_px, "Blur beyond which a frame is soft, in full-size pixels (sigma)")
      ->capture_default_str()
      ->group("Limits");
  app.add_option("--softer", p.softer_ratio,
                 "How many times softer than its look-alike a frame must be to go")
      ->capture_default_str()
      ->group("Limits");
  app.add_option("--motion", p.motion_px,
                 "Streak beyond which a frame is motion-blurred, in full-size pixels")
      ->capture_default_str()
      ->group("Limits");
  app.add_option("--clipped", p.clipped, "Share of the white plumage that may be clipped, 0 to 1")
      ->capture_default_str()
      ->group("Limits");
  app.add_option("--cut", p.cut, "Share of the subject's outline that may lie on the frame's edge, 0 to 1")
      ->capture_default_str()
      ->group("Limits");
  app.add_option("--sure", p.sure, "Confidence a reason needs to reject a frame, 0 to 1")
      ->capture_default_str()
      ->group("Limits");
  app.add_option("--keep", p.keep_most,
                 "Keeps of one burst at the most (0: one for every pose); those that show most of it stay")
      ->capture_default_str()
      ->group("Limits");
  auto& b = s.cull.bursts;
  app.add_option("--gap", b.gap_s, "A pause up to this many seconds never ends a burst")
      ->capture_default_str()
      ->group("Bursts");
  app.add_option("--gap-factor", b.gap_factor, "Nor one up to this many times the burst's median interval")
      ->capture_default_str()
      ->group("Bursts");
}

}  // namespace

void add_cull_options(CLI::App& app, Settings& s) {
  add_catalog_option(app, s);
  app.add_option("-j,--threads", s.cull.threads, "Frames worked on at once (0: one per core)")
      ->capture_default_str();
  app.add_flag("--require-sandbox", s.cull.engine.require_sandbox,
               "Refuse to run where the system can't shut in the process that opens photographs");
  app.add_option_function<std::string>(
         "--detector",
         [&s](const std::string& file) {
           auto& engine = s.cull.engine;
           engine.detector = file == "off" ? "" : file;
           engine.detector_required = !engine.detector.empty();
         },
         "The subject detector's model, or off (default: subject-detector.onnx in burstsieve's XDG data "
         "folder, "
         "if it is there)")
      ->type_name("FILE|off");
  app.add_flag("--json", s.json, "Print JSON Lines instead of tables: one object per burst, then a summary");
  app.add_flag("-q,--quiet", s.quiet, "Print the summary only");
  add_profile_option(app, s);
  add_sidecar_options(app, s);
  add_limit_options(app, s);
}

void add_look_options(CLI::App& app, Settings& s) {
  add_cull_options(app, s);
  app.remove_option(app.get_option("--dry-run"));
}

Result<Catalog> open_catalog(const Settings& settings) {
  if (!settings.catalog.empty()) return Catalog::open(settings.catalog, kEngineVersion);
  const auto path = default_catalog_path();
  if (!path) return path.error();
  return Catalog::open(*path, kEngineVersion);
}

int cannot_run(const Error& error) {
  complain("burstsieve: {}\n", error.line());
  return kCannotRun;
}

}  // namespace burstsieve::tool
