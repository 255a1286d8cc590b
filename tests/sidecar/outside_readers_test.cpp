// Sidecars as exiftool reads them, which shares no code with ours, and exempi, a later descendant of the
// toolkit inside exiv2.
#include <doctest/doctest.h>
#include <exempi/xmp.h>
#include <exempi/xmpconsts.h>

#include <nlohmann/json.hpp>

#include "base/temp_folder.h"
#include "burstsieve/sidecar/writer.h"
#include "sidecar/helpers.h"

using namespace burstsieve;
using namespace burstsieve::test;
using nlohmann::json;

namespace {

json exiftool(const std::string& arguments) {
  return json::parse(output_of("exiftool -q -j -struct " + arguments));
}

// What is foreign in an `exiftool -j -G1 -struct` record: neither ours, nor the file's own facts.
json foreign(json record) {
  for (auto it = record.begin(); it != record.end();) {
    const std::string& key = it.key();
    const bool skip = key == "SourceFile" || key.starts_with("System:") || key.starts_with("File:") ||
                      key.starts_with("ExifTool:") || key.starts_with("XMP-burstsieve:") ||
                      key == "XMP-xmp:Rating";
    it = skip ? record.erase(it) : std::next(it);
  }
  return record;
}

struct Exempi {
  Exempi() { xmp_init(); }
  ~Exempi() { xmp_terminate(); }
};

struct Xmp {
  explicit Xmp(const std::string& text) : handle(xmp_new(text.data(), text.size())) {}
  Xmp(const Xmp&) = delete;
  Xmp& operator=(const Xmp&) = delete;
  ~Xmp() { xmp_free(handle); }
  std::optional<std::string> get(const char* ns, const char* name) const {
    XmpStringPtr value = xmp_string_new();
    const bool found = xmp_get_property(handle, ns, name, value, nullptr);
    const std::string text = xmp_string_cstr(value);
    xmp_string_free(value);
    return found ? std::optional<std::string>(text) : std::nullopt;
  }
  XmpPtr handle;
};

constexpr const char* kOurs = "https://burstsieve.invalid/ns/1.0/";

// A sidecar with a bit of everything, made by exiftool.
void make_rich(const TempFolder& folder, const std::string& name) {
  folder.write(
      "config",
      "%Image::ExifTool::UserDefined = ('Image::ExifTool::XMP::Main' => { own => { SubDirectory => { "
      "TagTable => 'Image::ExifTool::UserDefined::own' } } });\n"
      "%Image::ExifTool::UserDefined::own = (GROUPS => {0=>'XMP',1=>'XMP-own',2=>'Image'}, "
      "NAMESPACE => {'own'=>'urn:example:own/'}, WRITABLE=>'string', Hide=>{}, "
      "Trip=>{Struct=>{STRUCT_NAME=>'T',NAMESPACE=>{'own'=>'urn:example:own/'}, Site=>{}, "
      "Hour=>{}}});\n1;\n");
  output_of(
      "exiftool -config '" + folder.at("config") + "' -q " +
      "-XMP-dc:Subject=heron -XMP-dc:Subject='grey & white' -XMP-dc:Title='By the river' "
      "-XMP-dc:Title-de='Am Fluss' -XMP-dc:Creator='A. Person' -XMP-xmp:Label=blue "
      "-XMP-photoshop:City=Basel -XMP-exif:GPSLatitude=47.5 -XMP-tiff:Orientation#=1 "
      "-XMP-xmpMM:History='[{Action=saved,When=2024:05:01 06:30:00,Changed=/},{Action=derived}]' "
      "-XMP-iptcExt:LocationShown='[{City=Basel,CountryName=Switzerland}]' "
      "-XMP-lr:HierarchicalSubject='birds|herons' -XMP-mwg-rs:RegionInfo='{AppliedToDimensions={W=100,H=50,"
      "Unit=pixel},RegionList=[{Name=bird,Type=Pet,Area={X=0.5,Y=0.5,W=0.1,H=0.2,Unit=normalized}}]}' "
      "-XMP-own:Hide='reed bed' -XMP-own:Trip='{Site=delta,Hour=six}' '" +
      folder.at(name) + "'");
}

}  // namespace

TEST_SUITE("sidecar/outside readers") {
  TEST_CASE("both read the rating that we wrote, and none for an undecided frame") {
    TempFolder folder;
    RealFileSystem fs;
    const Exempi library;
    for (int r = -1; r <= 5; ++r) {
      const auto rating = r == 0 ? std::nullopt : std::optional<int>(r);
      const std::string name = "r" + std::to_string(r) + ".xmp";
      REQUIRE(write_sidecar(fs, {folder.at(name), {}}, entry_with(rating), false));
      const Xmp xmp(folder.read(name));
      REQUIRE(xmp.handle != nullptr);
      const auto expected = rating ? std::optional<std::string>(std::to_string(r)) : std::nullopt;
      CHECK(xmp.get(NS_XAP, "Rating") == expected);
      CHECK(xmp.get(kOurs, "WrittenRating") == expected);
      CHECK(xmp.get(kOurs, "Reasons[1]/burstsieve:Code") == "soft");
      CHECK(xmp.get(kOurs, "Reasons[1]/burstsieve:Text") ==
            "edges 3.25 px wide, limit 2.5 px <on the \"head\" & eye>");
    }
    const json records = exiftool("-XMP-xmp:Rating '" + folder.path + "'");
    REQUIRE(records.size() == 7);
    for (const json& record : records) {
      const std::string file = record["SourceFile"];
      const int r = std::stoi(file.substr(file.rfind('r') + 1));
      if (r == 0)
        CHECK_FALSE(record.contains("Rating"));
      else
        CHECK(record["Rating"] == r);
    }
  }

  TEST_CASE("exiftool reads the record's structure") {
    TempFolder folder;
    RealFileSystem fs;
    REQUIRE(write_sidecar(fs, {folder.at("a.xmp"), {}}, entry_with(4), false));
    const json record = exiftool("-G1 '" + folder.at("a.xmp") + "'").at(0);
    CHECK(record["XMP-burstsieve:Verdict"] == "keep");
    CHECK(record["XMP-burstsieve:FrameKey"] == "0123456789abcdef");
    const json& measure = record["XMP-burstsieve:Measures"].at(0);
    CHECK(measure["Name"] == "blur_sigma_px");
    CHECK(measure["Value"].dump() == "0.3333333333333333");
    CHECK(measure["Basis"] == "jpeg");
    CHECK(record["XMP-burstsieve:Reasons"].at(0)["Limit"] == 2.5);
  }

  TEST_CASE("a rich sidecar keeps everything, through several visits") {
    TempFolder folder;
    RealFileSystem fs;
    make_rich(folder, "a.xmp");
    const std::string path = folder.at("a.xmp");
    const json before = foreign(exiftool("-G1 '" + path + "'").at(0));
    REQUIRE(before.size() >= 14);
    for (const std::optional<int> rating : {std::optional<int>(3), {-1}, {}, {5}}) {
      const auto done = write_sidecar(fs, {path, {}}, entry_with(rating), false);
      REQUIRE_MESSAGE(done, done.error().line());
      CHECK(done->change == SidecarChange::updated);
      const json after = exiftool("-G1 '" + path + "'").at(0);
      CHECK(foreign(after) == before);
      CHECK(after.contains("XMP-xmp:Rating") == rating.has_value());
    }
  }

  TEST_CASE("a rating set with exiftool is a person's, and our record survives exiftool's rewriting") {
    TempFolder folder;
    RealFileSystem fs;
    const SidecarPlace place{folder.at("a.xmp"), {}};
    REQUIRE(write_sidecar(fs, place, entry_with(4), false));
    output_of("exiftool -q -overwrite_original -XMP-dc:Subject=heron '" + place.path + "'");
    const auto after_keyword = write_sidecar(fs, place, entry_with(4), false);
    REQUIRE(after_keyword);
    CHECK(after_keyword->change == SidecarChange::unchanged);
    REQUIRE(write_sidecar(fs, place, entry_with(5), false));
    CHECK(exiftool("'" + place.path + "'").at(0)["Subject"].dump() == "[\"heron\"]");

    output_of("exiftool -q -overwrite_original -XMP-xmp:Rating=2 '" + place.path + "'");
    const std::string theirs = folder.read("a.xmp");
    const auto stopped = write_sidecar(fs, place, entry_with(5), false);
    REQUIRE(stopped);
    CHECK(stopped->change == SidecarChange::human);
    REQUIRE(stopped->human);
    CHECK(*stopped->human == HumanRating{2.0, "2", 5});
    CHECK(folder.read("a.xmp") == theirs);

    output_of("exiftool -q -overwrite_original -XMP-xmp:Rating= '" + place.path + "'");
    const auto word = read_override(fs, place);
    REQUIRE(word);
    REQUIRE(word->has_value());
    CHECK((*word)->cleared());
  }
}
