#include "preferences.h"

#include "burstsieve/base/durable.h"
#include "burstsieve/base/text.h"
#include "burstsieve/pipeline/learn.h"
#include "burstsieve/report/preferences.h"
#include "output.h"

namespace burstsieve::tool {
namespace {

constexpr const char* kPreferencesFooter = R"(
Every rating that you change after a run, in whatever program, teaches; so does every keep that you let stand in a
folder where you changed something. `cull` learns at its end and goes by it from the next run on, once it foretells
your choices better than the defaults do. It chooses which of the frames that stay is the one to keep; no frame is
rejected for it. docs/preferences.md says how.

Example: what was learnt; take it to another computer; begin anew
  burstsieve preferences
  burstsieve preferences export taste.json
  burstsieve preferences import taste.json --profile travel
  burstsieve preferences reset)";

int usage_of_preferences(const std::string& text) {
  cannot_run({Cause::unsupported, {}, text});
  return kUsage;
}

// What stands in the catalogue; an Error when it can't be read.
Result<PreferenceProfile> stored(Catalog& catalog, const std::string& name) {
  auto profile = catalog.preferences(name);
  if (const auto notes = catalog.take_notes(); !notes.empty())
    return Error{Cause::corrupt, {}, notes.front()};
  return profile ? std::move(*profile) : pipeline::fresh_profile(name);
}

Status exported(const PreferenceProfile& profile, const std::string& file) {
  RealFileSystem fs;
  const auto there = fs.stat(file);
  if (!there) return there.error();
  if (*there) return Error{Cause::io, file, "is there already, and was left alone"};
  const std::string text = report::preferences_json(profile);
  return durable_replace(fs, file, Bytes(reinterpret_cast<const std::uint8_t*>(text.data()), text.size()),
                         std::nullopt);
}

Status imported(Catalog& catalog, const std::string& name, const std::string& file, std::int64_t now_ms) {
  RealFileSystem fs;
  const auto bytes = fs.read_file(file, report::kMostPreferenceBytes);
  if (!bytes) return bytes.error();
  auto profile =
      report::preferences_from_json({reinterpret_cast<const char*>(bytes->data()), bytes->size()}, file);
  if (!profile) return profile.error();
  profile->name = name;
  profile->learnt_ms = now_ms;
  const auto overrides = catalog.overrides_of(name);
  if (const auto notes = catalog.take_notes(); !notes.empty())
    return Error{Cause::corrupt, {}, notes.front()};
  // They teach from now on; those before were of the taste that is replaced.
  if (!overrides.empty()) profile->forgotten_to = profile->last_override = overrides.back().id;
  return catalog.store_preferences(*profile);
}

}  // namespace

CLI::App* add_preferences(CLI::App& app, Settings& settings, PreferenceSettings& preferences) {
  CLI::App* out =
      app.add_subcommand("preferences", "Show what your ratings have taught, take it along, or reset it");
  out->add_option("ACTION", preferences.action, "show (the default), export, import or reset")
      ->check(CLI::IsMember({"show", "export", "import", "reset"}))
      ->type_name("");
  out->add_option("FILE", preferences.file, "For export and import")->type_name("");
  add_profile_option(*out, settings);
  add_catalog_option(*out, settings);
  out->add_flag("--json", settings.json, "show: print one JSON object, as export writes it");
  out->footer(kPreferencesFooter);
  return out;
}

int run_preferences(const Settings& settings, const PreferenceSettings& preferences) {
  const std::string& name = settings.cull.profile;
  const bool wants_file = preferences.action == "export" || preferences.action == "import";
  if (wants_file == preferences.file.empty())
    return usage_of_preferences(wants_file ? preferences.action + " needs a file"
                                           : preferences.action + " takes no file");
  if (!is_profile_name(name))
    return usage_of_preferences("a profile's name is 1 to 64 letters, digits, '-', '_' and '.'");
  auto catalog = open_catalog(settings);
  if (!catalog) return cannot_run(catalog.error());
  SystemClock clock;
  if (preferences.action == "reset") {
    if (const auto s = pipeline::reset_preferences(*catalog, name, clock.now_ms()); !s)
      return cannot_run(s.error());
    say("Profile {}: forgotten; the defaults are in use\n", name);
  } else if (preferences.action == "import") {
    if (const auto s = imported(*catalog, name, preferences.file, clock.now_ms()); !s)
      return cannot_run(s.error());
    say("Profile {}: goes by {} from now on\n", name, one_line(preferences.file));
  } else {
    const auto profile = stored(*catalog, name);
    if (!profile) return cannot_run(profile.error());
    if (preferences.action == "export") {
      if (const auto s = exported(*profile, preferences.file); !s) return cannot_run(s.error());
      say("Profile {}: written to {}\n", name, one_line(preferences.file));
    } else {
      say("{}", settings.json ? report::preferences_json(*profile) : report::preferences_text(*profile));
    }
  }
  return lost_output() ? kCannotRun : kDone;
}

}  // namespace burstsieve::tool
