#include "sidecar/corpus.h"

#include <doctest/doctest.h>
#include <exempi/xmp.h>
#include <exempi/xmpconsts.h>

#include <algorithm>
#include <exiv2/properties.hpp>
#include <exiv2/xmp_exiv2.hpp>
#include <filesystem>
#include <fstream>
#include <nlohmann/json.hpp>
#include <set>
#include <sstream>

#include "base/memory_file_system.h"
#include "base/temp_folder.h"
#include "burstsieve/decode/exiv2_gate.h"
#include "burstsieve/sidecar/restore.h"
#include "burstsieve/sidecar/writer.h"
#include "sidecar/helpers.h"

namespace burstsieve::test {

namespace {

using nlohmann::json;
using Lines = std::vector<std::string>;

const std::string kOurNamespace = "https://burstsieve.invalid/ns/1.0/";
const std::string kBasic = NS_XAP;

bool is_rating(const std::string& path) {  // "Rating", "Rating[1]", "Rating/?xml:lang"
  return path == "Rating" || path.starts_with("Rating[") || path.starts_with("Rating/");
}

// What exiv2 reads apart from our own, from the file's bytes as they are.
Lines by_exiv2(const std::string& bytes) {
  const decode::Exiv2Gate gate;
  Exiv2::XmpData data;
  if (Exiv2::XmpParser::decode(data, bytes) != 0) return {"unreadable"};
  Lines out;
  for (const Exiv2::Xmpdatum& d : data) {
    const std::string ns = Exiv2::XmpProperties::ns(d.groupName());
    if (ns == kOurNamespace || (ns == kBasic && is_rating(d.tagName()))) continue;
    out.push_back(ns + " " + d.key() + " " + d.typeName() + " = " + d.toString());
  }
  std::sort(out.begin(), out.end());
  return out;
}

std::string without_prefix(const std::string& path) {
  const auto colon = path.find(':');
  return colon == std::string::npos ? path : path.substr(colon + 1);
}

Lines by_exempi(const std::string& bytes) {
  XmpPtr xmp = xmp_new(bytes.data(), bytes.size());
  if (xmp == nullptr) return {"unreadable"};
  XmpIteratorPtr it = xmp_iterator_new(xmp, nullptr, nullptr, static_cast<XmpIterOptions>(0));
  XmpStringPtr schema = xmp_string_new(), path = xmp_string_new(), value = xmp_string_new();
  Lines out;
  for (std::uint32_t options = 0; xmp_iterator_next(it, schema, path, value, &options);) {
    const std::string ns = xmp_string_cstr(schema), at = xmp_string_cstr(path);
    if (at.empty() || ns == kOurNamespace || (ns == kBasic && is_rating(without_prefix(at)))) continue;
    out.push_back(ns + " " + at + " " + std::to_string(options) + " = " + xmp_string_cstr(value));
  }
  for (XmpStringPtr s : {schema, path, value}) xmp_string_free(s);
  xmp_iterator_free(it);
  xmp_free(xmp);
  std::sort(out.begin(), out.end());
  return out;
}

// -G4 numbers what stands there several times; ours would move the numbers of tags with the same name.
std::string without_copy_number(std::string key) {
  const auto copy = key.find("Copy");
  if (copy != std::string::npos) key.erase(copy, key.find(':', copy) + 1 - copy);
  return key;
}

// What exiftool reads apart from our own, by file.
std::map<std::string, Lines> by_exiftool(const TempFolder& folder) {
  static const std::set<std::string> fields{"Verdict", "WrittenRating", "Pose",     "Place",        "Better",
                                            "Reasons", "Measures",      "FrameKey", "EngineVersion"};
  // Prefixes of our namespace in the cases; and of XMP basic, where exiftool 12.57 does not resolve a
  // reference in the namespace's name.
  static const std::set<std::string> ours{"XMP-burstsieve", "XMP-burstsieve1", "XMP-b", "XMP-c"};
  static const std::set<std::string> basic{"XMP-xmp", "XMP-foo"};
  std::map<std::string, Lines> out;
  // Its exit code tells of files that it can't read; these say so in their record.
  for (const json& record :
       json::parse(output_of("exiftool -q -q -j -G1:4 -struct -a -u '" + folder.path + "' || true"))) {
    const std::string file = record["SourceFile"];
    Lines lines;
    for (const auto& [numbered, value] : record.items()) {
      const std::string key = without_copy_number(numbered);
      const std::string group = key.substr(0, key.find(':')), name = key.substr(key.rfind(':') + 1);
      const bool skip = (ours.count(group) != 0 && fields.count(name) != 0) ||
                        (basic.count(group) != 0 && name == "Rating") || group == "SourceFile" ||
                        group == "System" || group == "File" || name == "ExifToolVersion";
      if (!skip) lines.push_back(key + " = " + value.dump());
    }
    std::sort(lines.begin(), lines.end());
    out[file.substr(file.rfind('/') + 1)] = std::move(lines);
  }
  return out;
}

// The files that libxml2 takes for malformed: none that weren't before. (It guesses no UTF-16.)
std::set<std::string> malformed_to_xmllint(const TempFolder& folder) {
  std::set<std::string> out;
  std::istringstream lines(output_of("cd '" + folder.path + "' && { xmllint --noout *.xmp 2>&1 || true; }"));
  for (std::string line; std::getline(lines, line);)
    if (line.find(" error : ") != std::string::npos) out.insert(line.substr(0, line.find(':')));
  return out;
}

// All of `before` stands in `after`, with one piece inserted.
bool is_insertion(const std::string& before, const std::string& after) {
  if (after.size() < before.size()) return false;
  const auto front = std::mismatch(before.begin(), before.end(), after.begin()).first - before.begin();
  const auto back = std::mismatch(before.rbegin(), before.rend(), after.rbegin()).first - before.rbegin();
  return static_cast<std::size_t>(front + back) >= before.size();
}

const std::string kPath = "/d/a.xmp";

std::string standing(MemoryFileSystem& fs) {
  return text_of(fs.names().at(kPath)->live);
}

struct Visit {
  std::uint64_t ours = 0;  // contents_sum of what was written
  ByteBuffer before;
};

Visit applied_plan(MemoryFileSystem& fs, const SidecarPlan& plan) {
  REQUIRE(apply_plan(fs, plan));
  return {contents_sum(plan.after), plan.before};
}

// Two verdicts one after the other, then both taken back. Gives the bytes after the second.
std::string visited(MemoryFileSystem& fs, const SidecarPlan& first_plan, const std::string& name,
                    CorpusOutcome& out) {
  INFO(name);
  const std::string original = standing(fs);
  // The libraries' tables of prefixes grow with what they read.
  static_cast<void>(by_exiv2(original));
  if (!name.starts_with("ours-repeated")) static_cast<void>(by_exempi(original));
  const Lines exiv2 = by_exiv2(original);
  // exempi prints that it can't read these.
  const Lines exempi = name.starts_with("ours-repeated") ? Lines{"unreadable"} : by_exempi(original);
  if (exiv2 == Lines{"unreadable"}) out.unseen_by_exiv2.push_back(name);
  if (exempi == Lines{"unreadable"}) out.unseen_by_exempi.push_back(name);
  // exiv2 0.27 knows one namespace per prefix and one prefix per namespace: in these it takes foreign
  // properties for others before we touch them.
  const bool exiv2_misreads = name.starts_with("prefix-redefined-inside") ||
                              name.starts_with("xmp-prefix-bound-to-a-foreign-namespace");
  const auto compare = [&] {
    // A file that a library can't read, or misreads by itself, proves nothing.
    if (exiv2 != Lines{"unreadable"} && !exiv2_misreads) CHECK((by_exiv2(standing(fs)) == exiv2));
    if (exempi != Lines{"unreadable"}) CHECK((by_exempi(standing(fs)) == exempi));
  };
  const Visit first = applied_plan(fs, first_plan);
  compare();
  const std::string once = standing(fs);
  const bool nothing_goes =
      original.find("Rating") == std::string::npos && original.find("/>\n</x:xmpmeta>") == std::string::npos;
  if (nothing_goes && original.find('\0') == std::string::npos && !name.starts_with("ours") &&
      name.find("self-closed") == std::string::npos)
    CHECK(is_insertion(original, once));
  const auto second_plan = plan_sidecar(fs, {kPath, {}}, entry_with(-1));
  REQUIRE_MESSAGE(second_plan, second_plan.error().line());
  REQUIRE(second_plan->outcome.change == SidecarChange::updated);
  const Visit second = applied_plan(fs, *second_plan);
  compare();
  const std::string twice = standing(fs);
  const auto record = read_record(bytes_of(twice));
  REQUIRE(record);
  CHECK(record->rating == "-1");
  CHECK_FALSE(record->human);
  CHECK(plan_sidecar(fs, {kPath, {}}, entry_with(-1))->outcome.change == SidecarChange::unchanged);
  // A verdict that comes back comes back to the same bytes.
  CHECK((text_of(merge(bytes_of(twice), entry_with(3))->bytes) == once));
  CHECK(*restore_sidecar(fs, kPath, Bytes(second.before), second.ours, false) == Restored::restored);
  CHECK((standing(fs) == once));
  CHECK(*restore_sidecar(fs, kPath, Bytes(first.before), first.ours, false) == Restored::restored);
  CHECK((standing(fs) == original));
  return twice;
}

}  // namespace

CorpusOutcome visit_all(const std::map<std::string, std::string>& files) {
  xmp_init();
  CorpusOutcome out;
  TempFolder before, after;
  for (const auto& [name, bytes] : files) {
    MemoryFileSystem fs;
    fs.put(kPath, bytes_of(bytes));
    const auto plan = plan_sidecar(fs, {kPath, {}}, entry_with(3));
    if (!plan || !plan->writes()) {
      CHECK((standing(fs) == bytes));
      CHECK(fs.names().size() == 1);
      CHECK((!plan || plan->outcome.change == SidecarChange::human));
      if (plan) out.human.push_back(name);
      if (plan) continue;
      CHECK(plan.error().line().find_first_of("\n\r") == std::string::npos);
      out.refused.push_back(name + ": " + plan.error().text);
      continue;
    }
    out.merged.push_back(name);
    before.write(name + ".xmp", bytes);
    after.write(name + ".xmp", visited(fs, *plan, name, out));
  }
  xmp_terminate();
  if (out.merged.empty()) return out;
  const auto tags_before = by_exiftool(before), tags_after = by_exiftool(after);
  CHECK(tags_before.size() == out.merged.size());
  for (const auto& [name, tags] : tags_before) {
    // exiftool 12.57 takes a default namespace for none, and "Xmpmeta" for one large property.
    if (name.starts_with("default-namespace")) continue;
    CHECK_MESSAGE((tags_after.count(name) == 1 && tags_after.at(name) == tags),
                  "exiftool reads differently: " << name);
  }
  CHECK((malformed_to_xmllint(after) == malformed_to_xmllint(before)));
  return out;
}

std::map<std::string, std::string> sidecars_in(const std::string& folder) {
  std::map<std::string, std::string> out;
  for (const auto& e : std::filesystem::directory_iterator(folder)) {
    if (e.path().extension() != ".xmp") continue;
    std::ifstream in(e.path(), std::ios::binary);
    out[e.path().stem().string()] = {std::istreambuf_iterator<char>(in), {}};
  }
  return out;
}

}  // namespace burstsieve::test
