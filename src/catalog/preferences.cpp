// Overrides by profile, and what they taught.
#include <algorithm>
#include <cmath>
#include <set>
#include <utility>

#include "burstsieve/base/file_system.h"
#include "burstsieve/catalog/catalog.h"
#include "codec.h"
#include "impl.h"

namespace burstsieve {

using namespace catalog;

bool is_profile_name(std::string_view name) {
  constexpr std::string_view kAllowed = "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789-_.";
  return !name.empty() && name.size() <= 64 && name.find_first_not_of(kAllowed) == std::string_view::npos;
}

std::optional<rank::Weights> weights_in_use(const PreferenceProfile& profile) {
  if (profile.learnt.in_use) return profile.learnt.weights;
  if (profile.imported) return profile.learnt.base;
  return std::nullopt;
}

Status Catalog::record_override(const Override& entry, const std::string& profile) {
  const std::string path = stored_path(entry.path);
  Database& db = *impl_->db;
  Transaction t(db);
  if (auto s = t.begin(); !s) return s.error();
  // IS compares NULLs too.
  Statement insert(
      db,
      "INSERT INTO overrides(path, ours, human, human_text, at_ms) SELECT ?1,?2,?3,?4,?5 WHERE NOT EXISTS("
      "SELECT 1 FROM overrides WHERE id=(SELECT max(id) FROM overrides WHERE path=?1) "
      "AND ours IS ?2 AND human IS ?3 AND human_text IS ?4)");
  insert.bind_path(path).bind_optional(entry.ours).bind_optional(entry.human);
  if (auto s = insert.bind_text(entry.human_text).bind(entry.at_ms).run(); !s) return s.error();
  const auto changed = db.number("SELECT changes()");
  if (!changed) return changed.error();
  if (*changed > 0) {
    Statement whose(db,
                    "INSERT OR REPLACE INTO override_profiles VALUES(last_insert_rowid(), ?, "
                    "EXISTS(SELECT 1 FROM verdicts WHERE path=?))");
    if (auto s = whose.bind_text(profile).bind_path(path).run(); !s) return s.error();
  }
  return t.commit();
}

std::vector<NumberedOverride> Catalog::overrides_of(const std::string& profile) {
  Statement s(
      *impl_->db,
      "SELECT o.id, o.path, o.ours, o.human, o.human_text, o.at_ms, p.judged FROM overrides o LEFT JOIN "
      "override_profiles p ON p.override=o.id WHERE coalesce(p.profile, ?)=? ORDER BY o.id");
  s.bind_text(kDefaultProfile).bind_text(profile);
  std::vector<NumberedOverride> out;
  while (impl_->row(s, impl_->path)) {
    NumberedOverride o;
    o.id = s.integer(0);
    o.entry.path = s.text(1);
    if (!s.is_null(2)) o.entry.ours = static_cast<int>(s.integer(2));
    if (!s.is_null(3)) o.entry.human = s.real(3);
    o.entry.human_text = s.text(4);
    o.entry.at_ms = s.integer(5);
    o.judged = s.is_null(6) || s.integer(6) != 0;
    out.push_back(std::move(o));
  }
  return out;
}

namespace {

// A weight that stands in no relation to its bounds was not written by us.
double stored_weight(double value, const rank::FeatureSpec& spec) {
  return std::isfinite(value) ? std::clamp(value, spec.least, spec.most) : spec.weight;
}

}  // namespace

std::optional<PreferenceProfile> Catalog::preferences(const std::string& profile) {
  Statement s(
      *impl_->db,
      "SELECT learnt_ms, last_override, forgotten_to, imported, in_use, scale, overrides, agreements, "
      "choices, gain, gain_sure, agreed_base, agreed_learnt FROM preferences WHERE profile=?");
  s.bind_text(profile);
  if (!impl_->row(s, impl_->path)) return std::nullopt;
  PreferenceProfile out;
  out.name = profile;
  out.learnt_ms = s.integer(0);
  out.last_override = s.integer(1);
  out.forgotten_to = s.integer(2);
  out.imported = s.integer(3) != 0;
  rank::Learnt& l = out.learnt;
  l.in_use = s.integer(4) != 0;
  l.scale = s.real(5);
  l.overrides = static_cast<int>(s.integer(6));
  l.agreements = static_cast<int>(s.integer(7));
  l.choices = static_cast<int>(s.integer(8));
  l.gain = s.real(9), l.gain_sure = s.real(10);
  l.agreed_base = s.real(11), l.agreed_learnt = s.real(12);
  l.weights = l.base = rank::default_weights();
  Statement w(*impl_->db,
              "SELECT feature, weight, uncertainty, base, informed FROM preference_weights WHERE profile=?");
  w.bind_text(profile);
  while (impl_->row(w, impl_->path)) {
    const auto feature = rank::feature_of(w.text(0));
    if (!feature) continue;  // of another release
    const rank::FeatureSpec& spec = rank::feature_specs()[*feature];
    l.weights[*feature] = stored_weight(w.real(1), spec);
    l.uncertainty[*feature] = std::isfinite(w.real(2)) ? w.real(2) : 0;
    l.base[*feature] = stored_weight(w.real(3), spec);
    l.informed[*feature] = static_cast<int>(w.integer(4));
  }
  return out;
}

std::vector<std::string> Catalog::preference_profiles() {
  Statement s(*impl_->db, "SELECT profile FROM preferences ORDER BY profile");
  std::vector<std::string> out;
  while (impl_->row(s, impl_->path)) out.push_back(s.text(0));
  return out;
}

Status Catalog::store_preferences(const PreferenceProfile& p) {
  Transaction t(*impl_->db);
  if (auto s = t.begin(); !s) return s.error();
  const rank::Learnt& l = p.learnt;
  Statement head(*impl_->db, "INSERT OR REPLACE INTO preferences VALUES(?,?,?,?,?,?,?,?,?,?,?,?,?,?)");
  head.bind_text(p.name).bind(p.learnt_ms).bind(p.last_override).bind(p.forgotten_to);
  head.bind(static_cast<int>(p.imported)).bind(static_cast<int>(l.in_use)).bind(l.scale).bind(l.overrides);
  head.bind(l.agreements).bind(l.choices).bind(l.gain).bind(l.gain_sure).bind(l.agreed_base);
  if (auto s = head.bind(l.agreed_learnt).run(); !s) return s.error();
  Statement row(*impl_->db, "INSERT OR REPLACE INTO preference_weights VALUES(?,?,?,?,?,?)");
  for (std::size_t i = 0; i < rank::kFeatures; ++i) {
    row.bind_text(p.name).bind_text(rank::feature_specs()[i].id).bind(l.weights[i]).bind(l.uncertainty[i]);
    if (auto s = row.bind(l.base[i]).bind(l.informed[i]).run(); !s) return s.error();
  }
  return t.commit();
}

std::vector<std::string> Catalog::bursts_up_to(const std::string& last) {
  const std::string to = stored_path(last), from = folder_of(to) + "/";
  Statement s(*impl_->db, "SELECT path, burst FROM frames WHERE path>=? AND path<=? ORDER BY path");
  s.bind_path(from).bind_path(to);
  std::vector<std::string> out;
  std::set<std::string> known;
  while (impl_->row(s, impl_->path)) {
    const bool in_folder = s.text(0).find('/', from.size()) == std::string::npos;
    if (in_folder && known.insert(s.text(1)).second) out.push_back(s.text(1));
  }
  return out;
}

std::optional<StoredBurst> Catalog::stored_burst(const std::string& key) {
  Statement s(*impl_->db, "SELECT path, record, thumbnail FROM frames WHERE burst=? ORDER BY position");
  s.bind_text(key);
  StoredBurst out;
  while (impl_->row(s, impl_->path)) {
    auto facts = decode_facts(s.bytes(1), s.bytes(2));
    if (!facts)
      return std::nullopt;  // of a release with another layout: no note, it is measured anew in time
    out.paths.push_back(s.text(0));
    out.facts.push_back(std::move(*facts));
  }
  if (out.paths.empty()) return std::nullopt;
  return out;
}

}  // namespace burstsieve
