// The makers on the tags of known files. The tag values are those exiv2 0.27.6 prints for the named files of
// its own test data; the expected results are exiftool 12.57's for the same file, or worked out beside the
// check.
#include <doctest/doctest.h>

#include "burstsieve/camera/exif_af.h"
#include "burstsieve/camera/maker.h"
#include "fake_tags.h"

namespace burstsieve::camera {
namespace {

const Maker& maker(std::string_view id) {
  for (const Maker* m : makers())
    if (m->id == id) return *m;
  FAIL("no such maker");
  return *makers().front();
}

Capture frame(int width, int height, const char* model = "", int orientation = 1) {
  Capture c;
  c.model = model;
  c.width = width;
  c.height = height;
  c.orientation = orientation;
  return c;
}

// Three AF points of a made-up layout, one of them in focus.
FakeTags canon_points(std::int64_t in_focus, std::int64_t selected) {
  FakeTags t;
  t.set("Canon.AFValidPoints", {3}).set("Canon.AFImageWidth", {4000}).set("Canon.AFImageHeight", {3000});
  t.set("Canon.AFXPositions", {-1000, 0, 500}).set("Canon.AFYPositions", {600, 0, -300});
  t.set("Canon.AFAreaWidths", {200, 200, 200}).set("Canon.AFAreaHeights", {150, 150, 150});
  t.set("Canon.AFPointsInFocus", {in_focus}).set("Canon.AFPointsSelected", {selected});
  return t;
}

TEST_CASE("Canon 5D Mark IV: bit 9 of the second word is point 25") {  // test_issue_981b.exv
  // Every other point where the file has its first one; point 25 is the centre.
  std::vector<std::int64_t> x(63, -336), y(63, 547);
  x[25] = 0;
  y[25] = 0;
  FakeTags t;
  t.set("Canon.AFValidPoints", {61}).set("Canon.AFImageWidth", {6720}).set("Canon.AFImageHeight", {4480});
  t.set("Canon.AFXPositions", x).set("Canon.AFYPositions", y);
  t.set("Canon.AFAreaWidths", std::vector<std::int64_t>(63, 218));
  t.set("Canon.AFAreaHeights", std::vector<std::int64_t>(63, 218));
  t.set("Canon.AFPointsInFocus", {0, 512, 0, 0}).set("CanonCs.DriveMode", {5});
  Capture c = frame(6720, 4480, "Canon EOS 5D Mark IV");
  maker("canon").read(t, c);
  REQUIRE(c.af);
  CHECK(c.af->box.centre_x() == doctest::Approx(.5));
  CHECK(c.af->box.centre_y() == doctest::Approx(.5));
  CHECK(c.af->box.w == doctest::Approx(218.0 / 6720));
  CHECK(c.drive == DriveMode::continuous);
}

TEST_CASE("Canon: positions are scaled by the AF image, not by the photograph") {
  Capture c = frame(4752, 3168, "Canon EOS 500D");  // AF image 4000 wide here
  maker("canon").read(canon_points(1, 0), c);
  REQUIRE(c.af);
  CHECK(c.af->box.centre_x() == doctest::Approx(.25));
  CHECK(c.af->box.centre_y() == doctest::Approx(.3));  // y = 600 of 3000 above the middle
}

TEST_CASE("Canon: y grows downwards on compact cameras") {
  Capture c = frame(4000, 3000, "Canon PowerShot SX240 HS");
  maker("canon").read(canon_points(1, 0), c);
  REQUIRE(c.af);
  CHECK(c.af->box.centre_y() == doctest::Approx(.7));
}

TEST_CASE("Canon: several points in focus give the box around them") {
  Capture c = frame(4000, 3000, "Canon EOS R5");
  maker("canon").read(canon_points(1 | 4, 0), c);
  REQUIRE(c.af);
  CHECK(c.af->box.x == doctest::Approx(.25 - .025));
  CHECK(c.af->box.right() == doctest::Approx(.625 + .025));
  CHECK(c.af->confidence < .9);
}

TEST_CASE("Canon: a selected point without focus counts less, all points count nothing") {
  Capture c = frame(4000, 3000, "Canon EOS R5");
  maker("canon").read(canon_points(0, 2), c);
  REQUIRE(c.af);
  CHECK(c.af->box.centre_x() == doctest::Approx(.5));
  CHECK(c.af->confidence == doctest::Approx(.5));
  FakeTags t = canon_points(0, 0xffff);
  t.set("Canon.AFValidPoints", {16});
  for (const char* key :
       {"Canon.AFXPositions", "Canon.AFYPositions", "Canon.AFAreaWidths", "Canon.AFAreaHeights"})
    t.set(key, std::vector<std::int64_t>(16, 100));
  Capture all = frame(4000, 3000, "Canon EOS R5");
  maker("canon").read(t, all);
  CHECK_FALSE(all.af);
}

TEST_CASE("Canon R6: no valid points is unknown, without a note") {  // Canon-R6-pruned.CR3
  FakeTags t;
  t.set("Canon.AFValidPoints", {0}).set("Canon.AFImageWidth", {3408}).set("Canon.AFImageHeight", {2272});
  t.set("Canon.AFPointsInFocus", std::vector<std::int64_t>(66, 0));
  Capture c = frame(3408, 2272, "Canon EOS R6");
  maker("canon").read(t, c);
  CHECK_FALSE(c.af);
  CHECK(c.notes.empty());
}

TEST_CASE("Canon: a zero AF image size is a note, not an area") {
  FakeTags t = canon_points(1, 0);
  t.set("Canon.AFImageWidth", {0});
  Capture c = frame(4000, 3000, "Canon EOS R5");
  maker("canon").read(t, c);
  CHECK_FALSE(c.af);
  CHECK(c.notes.size() == 1);
}

TEST_CASE("Canon 350D: the older layout, array 0x0012") {  // CanonRaw.cr2 of exiftool's t/images
  FakeTags t;
  const std::vector<std::int64_t> a{7,   7,    3456, 2304,  3456, 2304, 189, 188, 0, 64299, 64794, 0,
                                    742, 1237, 0,    64919, 0,    0,    0,   0,   0, 617,   8};
  t.set("CanonPi.0x0000", {a[0]}).set("CanonPi.0x0001", {a[1]}).set("CanonPi.ImageWidth", {a[2]});
  t.set("CanonPi.ImageHeight", {a[3]}).set("CanonPi.ImageWidthAsShot", {a[4]});
  t.set("CanonPi.ImageHeightAsShot", {a[5]}).set("CanonPi.AFPointsUsed", {a[22]});
  const char* names[] = {"06", "07", "08", "09", "0a", "0b", "0c", "0d",
                         "0e", "0f", "10", "11", "12", "13", "14", "15"};
  for (std::size_t i = 6; i <= 21; ++i) t.set(std::string("CanonPi.0x00") + names[i - 6], {a[i]});
  t.set("CanonFi.FileNumber", {1579264}).set("CanonCs.DriveMode", {0});
  Capture c = frame(3456, 2304, "Canon EOS 350D DIGITAL");
  maker("canon").read(t, c);
  REQUIRE(c.af);  // bit 3 = fourth point: 0, 0
  CHECK(c.af->box.centre_x() == doctest::Approx(.5));
  CHECK(c.af->box.w == doctest::Approx(189.0 / 3456));
  CHECK(c.file_number == 24u);  // exiftool: 100-0024
  CHECK(c.drive == DriveMode::single);
}

TEST_CASE("Canon: drive, run, file number, serial") {
  FakeTags t;
  t.set("CanonCs.DriveMode", {0}).set("CanonCs.Selftimer", {20}).set("CanonSi.Sequence", {3});
  t.set("Canon.FileNumber", {1200246}).set("Canon.SerialNumber", {210104331});
  t.set_text("Canon.LensModel", "EF-S18-55mm f/3.5-5.6");
  Capture c = frame(100, 100, "Canon EOS 50D");
  maker("canon").read(t, c);
  CHECK(c.drive == DriveMode::self_timer);
  CHECK(c.sequence_number == 3u);
  CHECK(c.file_number == 246u);  // folder 120
  CHECK(c.serial == "0210104331");
  CHECK(c.lens == "EF-S18-55mm f/3.5-5.6");
  Capture compact = frame(100, 100, "Canon PowerShot S40");
  maker("canon").read(t, compact);
  CHECK(compact.serial.empty());  // a number of another meaning there
}

TEST_CASE("Nikon D850 live view") {  // _DSC8437.exv
  FakeTags t;
  t.set("NikonAf22.ContrastDetectAF", {1}).set_bytes("NikonAf22.Version", {'0', '1', '0', '1'});
  t.set("NikonAf22.AFImageWidth", {8256}).set("NikonAf22.AFImageHeight", {5504});
  t.set("NikonAf22.AFAreaXPosition", {3950}).set("NikonAf22.AFAreaYPosition", {2871});
  t.set("NikonAf22.AFAreaWidth", {435}).set("NikonAf22.AFAreaHeight", {360});
  t.set("Nikon3.ShutterCount", {8541}).set("NikonFi.FileNumber", {8437}).set("Nikon3.ShootingMode", {0});
  Capture c = frame(8256, 5504);
  maker("nikon").read(t, c);
  REQUIRE(c.af);
  CHECK(c.af->box.centre_x() == doctest::Approx(3950.0 / 8256));
  CHECK(c.af->box.centre_y() == doctest::Approx(2871.0 / 5504));
  CHECK(c.af->box.w == doctest::Approx(435.0 / 8256));
  CHECK(c.af->box.h == doctest::Approx(360.0 / 5504));
  CHECK(c.shutter_count == 8541u);
  CHECK(c.file_number == 8437u);
  CHECK(c.drive == DriveMode::single);
  Capture turned = frame(5504, 8256, "", 8);  // held upright: turn 90 degrees counter-clockwise to view
  maker("nikon").read(t, turned);
  REQUIRE(turned.af);
  CHECK(turned.af->box.centre_x() == doctest::Approx(2871.0 / 5504));
  CHECK(turned.af->box.centre_y() == doctest::Approx(1 - 3950.0 / 8256));
}

TEST_CASE("Nikon Z 6: little-endian shorts at byte 0x2a") {  // CH0_0174.exv
  FakeTags t;
  t.set("NikonAf2.ContrastDetectAF", {1}).set_bytes("NikonAf2.Version", {'0', '3', '0', '0'});
  t.set("NikonAf2.AFImageWidth", {0});
  t.set("NikonAf2.0x001e", {0,  0,   0,  0,   0, 0,  0, 0,  0, 0, 0, 0, 160, 23, 184,
                            15, 208, 11, 220, 7, 29, 1, 52, 1, 0, 0, 0, 0,   0,  0});
  Capture c = frame(6048, 4024);
  maker("nikon").read(t, c);
  REQUIRE(c.af);
  CHECK(c.af->box.w == doctest::Approx(285.0 / 6048));
  CHECK(c.af->box.h == doctest::Approx(308.0 / 4024));
  CHECK(c.af->box.centre_x() == doctest::Approx(.5));
  CHECK(c.af->confidence <= .5);  // exiftool does not trust the position in this mode
  t.set("NikonAf2.ContrastDetectAF", {2});
  maker("nikon").read(t, c);
  CHECK(c.af->confidence == doctest::Approx(.9));
}

TEST_CASE("Nikon viewfinder: the centre is known, other points are named as unknown") {
  FakeTags t;
  t.set("NikonAf2.ContrastDetectAF", {0}).set_bytes("NikonAf2.Version", {'0', '1', '0', '0'});
  t.set("NikonAf2.PrimaryAFPoint", {11});  // Stonehenge.exv, D5300
  Capture c = frame(6000, 4000);
  maker("nikon").read(t, c);
  CHECK_FALSE(c.af);
  CHECK(c.notes.size() == 1);
  t.set("NikonAf2.PrimaryAFPoint", {1});
  Capture centre = frame(6000, 4000);
  maker("nikon").read(t, centre);
  REQUIRE(centre.af);
  CHECK(centre.af->box.centre_x() == doctest::Approx(.5));
  t.set("NikonAf2.PrimaryAFPoint", {0});
  Capture none = frame(6000, 4000);
  maker("nikon").read(t, none);
  CHECK_FALSE(none.af);
  CHECK(none.notes.empty());
}

TEST_CASE("Nikon D850 viewfinder: exiv2's point 0 is not believed") {  // Sigma_120-300..., exiftool: 108
  FakeTags t;
  std::vector<std::int64_t> rest(55, 0);
  rest[0x44 - 0x0f] = 108;
  t.set("NikonAf22.ContrastDetectAF", {0}).set_bytes("NikonAf22.Version", {'0', '1', '0', '1'});
  t.set("NikonAf22.PrimaryAFPoint", {0}).set("NikonAf22.0x000f", rest);
  Capture c = frame(8256, 5504);
  maker("nikon").read(t, c);
  CHECK_FALSE(c.af);
  REQUIRE(c.notes.size() == 1);
  CHECK(c.notes[0].find("108") != std::string::npos);
}

TEST_CASE("Nikon drive bits and serial") {
  const auto drive_of = [](std::int64_t bits) {
    FakeTags t;
    t.set("Nikon3.ShootingMode", {bits}).set_text("Nikon3.SerialNO", "NO= 20025585");
    Capture c = frame(1, 1);
    maker("nikon").read(t, c);
    CHECK(c.serial == "20025585");
    return c.drive;
  };
  CHECK(drive_of(0) == DriveMode::single);
  CHECK(drive_of(1) == DriveMode::continuous);
  CHECK(drive_of(33) == DriveMode::continuous);
  CHECK(drive_of(32) == DriveMode::single);  // automatic ISO
  CHECK(drive_of(8) == DriveMode::self_timer);
  CHECK(drive_of(17) == DriveMode::bracket);
}

TEST_CASE("Sony A7M3 focus location") {  // exiv2-pr906.exv
  FakeTags t;
  t.set("Sony2.0x2027", {6000, 4000, 3000, 2000})
      .set("Sony2.ReleaseMode", {0})
      .set("Sony2.SequenceNumber", {0});
  Capture c = frame(6000, 4000, "ILCE-7M3");
  maker("sony").read(t, c);
  REQUIRE(c.af);
  CHECK(c.af->box.centre_x() == doctest::Approx(.5));
  CHECK(c.af->confidence < .5);  // the exact centre is what the camera writes when it knows nothing
  CHECK_FALSE(c.sequence_number);
  t.set("Sony2.0x2027", {6000, 4000, 4500, 1000});
  maker("sony").read(t, c);
  CHECK(c.af->box.centre_x() == doctest::Approx(.75));
  CHECK(c.af->box.centre_y() == doctest::Approx(.25));
  CHECK(c.af->box.w * 6000 == doctest::Approx(c.af->box.h * 4000));  // square in pixels
  t.set("Sony2.0x2037", {600, 400, 257});
  maker("sony").read(t, c);
  CHECK(c.af->box.w == doctest::Approx(.1));
  CHECK(c.af->box.h == doctest::Approx(.1));
}

TEST_CASE("Sony RX100: its block counts from 0") {  // test_issue_1472.jpg; exiftool: 1
  FakeTags t;
  t.set("Sony1.ReleaseMode", {2}).set("Sony1.SequenceNumber", {1}).set("Sony2010e.SequenceImageNumber", {0});
  Capture c = frame(5472, 3648, "DSC-RX100");
  maker("sony").read(t, c);
  CHECK(c.drive == DriveMode::continuous);
  CHECK(c.sequence_number == 1u);
  t.set("Sony1.SequenceNumber", {0}).set("Sony2010e.SequenceImageNumber", {4});
  Capture later = frame(5472, 3648, "DSC-RX100");
  maker("sony").read(t, later);
  CHECK(later.sequence_number == 5u);
}

TEST_CASE("Sony enciphered blocks") {
  // c = b^3 mod 249 by hand: 3 -> 27, 2 -> 8, 7 -> 94 (343 - 249), 0 -> 0.
  std::vector<std::uint8_t> block(64, 0);
  block[0x32] = 27;
  block[0x33] = 8;
  FakeTags t;
  t.set_bytes("Sony2.0x9050", block).set("Sony2.ReleaseMode", {2});
  std::vector<std::uint8_t> run(32, 0);
  run[0] = 0x23;
  run[0x12] = 94;
  t.set_bytes("Sony2.0x9400", run);
  Capture c = frame(6000, 4000, "ILCE-6000");
  maker("sony").read(t, c);
  CHECK(c.shutter_count == 3u + 2u * 256u);
  CHECK(c.sequence_number == 8u);
  Capture other = frame(6000, 4000, "ILCE-UNHEARD");
  maker("sony").read(t, other);
  CHECK_FALSE(other.shutter_count);
  run[0] = 0x99;  // an unknown form of the blocks
  t.set_bytes("Sony2.0x9400", run);
  Capture unknown = frame(6000, 4000, "ILCE-6000");
  maker("sony").read(t, unknown);
  CHECK_FALSE(unknown.shutter_count);
  CHECK_FALSE(unknown.sequence_number);
}

TEST_CASE("Fujifilm X-T3 focus pixel") {  // exiv2-pr1409.exv
  FakeTags t;
  t.set("Fujifilm.0x1023", {3598, 2090})
      .set("Photo.PixelXDimension", {4416})
      .set("Photo.PixelYDimension", {2944});
  t.set("Fujifilm.0x1103", {2}).set("Fujifilm.SequenceNumber", {7}).set("Fujifilm.Continuous", {0});
  Capture c = frame(6240, 4160, "X-T3");  // the raw is larger than the camera's JPEG
  maker("fujifilm").read(t, c);
  REQUIRE(c.af);
  CHECK(c.af->box.centre_x() == doctest::Approx(3598.0 / 4416));
  CHECK(c.af->box.centre_y() == doctest::Approx(2090.0 / 2944));
  CHECK(c.drive == DriveMode::continuous);
  CHECK(c.sequence_number == 7u);
}

TEST_CASE("Fujifilm: a cropped picture whose focus pixel lies outside gets a note") {  // FujiTags*.jpg
  FakeTags t;
  t.set("Fujifilm.0x1023", {1041, 1041})
      .set("Photo.PixelXDimension", {600})
      .set("Photo.PixelYDimension", {400});
  Capture c = frame(600, 400);
  maker("fujifilm").read(t, c);
  CHECK_FALSE(c.af);
  CHECK(c.notes.size() == 1);
}

TEST_CASE("Olympus: five fractions, the first undefined") {  // olympus-m.zuiko-17mm-f1.2-pro.exv
  FakeTags t;
  t.set_text("OlympusCs.AFPointSelected", "0/0 335/640 224/480 335/640 224/480");
  t.set("OlympusCs.DriveMode", {5, 1, 1, 0, 0});
  Capture c = frame(5184, 3888);
  maker("olympus").read(t, c);
  REQUIRE(c.af);
  CHECK(c.af->box.centre_x() == doctest::Approx(335.0 / 640));
  CHECK(c.af->box.centre_y() == doctest::Approx(224.0 / 480));
  CHECK(c.drive == DriveMode::bracket);                            // exiftool: "AE Bracketing, Shot 1"
  t.set_text("OlympusCs.AFPointSelected", "0/0 0/0 0/0 0/0 0/0");  // OM-1, test_issue_2126.exv
  Capture om = frame(5184, 3888);
  maker("olympus").read(t, om);
  CHECK_FALSE(om.af);
  t.set("OlympusCs.DriveMode", {1, 6});
  maker("olympus").read(t, om);
  CHECK(om.drive == DriveMode::continuous);
  CHECK(om.sequence_number == 6u);
}

TEST_CASE("Panasonic FT4: fractions of the frame") {  // exiv2-bug825a.exv
  FakeTags t;
  t.set_numbers("Panasonic.AFPointPosition", {.25, .75}).set("Panasonic.BurstMode", {0});
  t.set("Panasonic.SelfTimer", {1}).set("Panasonic.SequenceNumber", {0});
  Capture c = frame(4000, 3000);
  maker("panasonic").read(t, c);
  REQUIRE(c.af);
  CHECK(c.af->box.centre_x() == doctest::Approx(.25));
  CHECK(c.af->box.centre_y() == doctest::Approx(.75));
  CHECK(c.drive == DriveMode::single);
  CHECK_FALSE(c.sequence_number);
  t.set_numbers("Panasonic.AFPointPosition", {16777216, 16777216});  // exiftool: none
  Capture none = frame(4000, 3000);
  maker("panasonic").read(t, none);
  CHECK_FALSE(none.af);
}

TEST_CASE("Pentax K-3") {  // exiv2-bug1144b.exv; exiftool: shutter count 2225, AF point centre
  FakeTags t;
  t.set_bytes("PentaxDng.Date", {7, 223, 12, 22}).set_bytes("PentaxDng.Time", {21, 56, 49});
  t.set_bytes("PentaxDng.ShutterCount", {237, 24, 202, 88}).set("PentaxDng.DriveMode", {0, 0, 0, 0});
  t.set("PentaxDng.AFPointInFocus", {8192});
  Capture c = frame(6016, 4000, "PENTAX K-3");
  maker("pentax").read(t, c);
  CHECK(c.shutter_count == 2225u);
  REQUIRE(c.af);
  CHECK(c.af->box.centre_x() == doctest::Approx(.5));
  CHECK(c.drive == DriveMode::single);
  t.set("PentaxDng.AFPointInFocus", {128});
  t.set_bytes("PentaxDng.Date", {0, 0, 0, 0});
  Capture other = frame(6016, 4000, "PENTAX K-3");
  maker("pentax").read(t, other);
  CHECK_FALSE(other.af);
  CHECK_FALSE(other.shutter_count);
  CHECK(other.notes.size() == 2);
}

TEST_CASE("Pentax K10D and K-30: the point by number") {
  // AFInfo of RAW_PENTAX_K100.exv but for the last byte; exiftool: 5 = "Center (horizontal)", 2 = "Bottom".
  std::vector<std::uint8_t> info{0, 32, 96, 32, 255, 252, 2, 3, 31, 31, 13, 5};
  FakeTags t;
  t.set_bytes("Pentax.AFInfo", info).set("Pentax.DriveMode", {1, 0, 0, 0});
  for (const char* model : {"PENTAX K10D", "PENTAX K-30"}) {
    Capture c = frame(3872, 2592, model);
    maker("pentax").read(t, c);
    CHECK(c.af);
    CHECK(c.drive == DriveMode::continuous);
  }
  Capture k1 = frame(7360, 4912, "PENTAX K-1 Mark II");  // another layout
  maker("pentax").read(t, k1);
  CHECK_FALSE(k1.af);
  info[11] = 2;
  t.set_bytes("Pentax.AFInfo", info);
  Capture c = frame(3872, 2592, "PENTAX K10D");
  maker("pentax").read(t, c);
  CHECK_FALSE(c.af);
  CHECK(c.notes.size() == 1);
}

TEST_CASE("Exif SubjectArea: point, circle, rectangle") {
  FakeTags t;
  t.set("Photo.SubjectArea", {841, 1124, 751, 753});  // a 4032x3024 telephone picture of exiv2's test data
  t.set("Photo.PixelXDimension", {4032}).set("Photo.PixelYDimension", {3024});
  Capture c = frame(4032, 3024);
  read_exif_af(t, c);
  REQUIRE(c.af);
  CHECK(c.af->box.centre_x() == doctest::Approx(841.0 / 4032));
  CHECK(c.af->box.w == doctest::Approx(751.0 / 4032));
  CHECK(c.af->box.h == doctest::Approx(753.0 / 3024));
  t.set("Photo.SubjectArea", {2016, 1512, 300});
  read_exif_af(t, c);
  CHECK(c.af->box.w == doctest::Approx(300.0 / 4032));
  CHECK(c.af->box.h == doctest::Approx(300.0 / 3024));
  t.set("Photo.SubjectArea", {1008, 756});
  Capture turned = frame(3024, 4032, "", 6);
  read_exif_af(t, turned);
  REQUIRE(turned.af);
  CHECK(turned.af->box.centre_x() == doctest::Approx(.75));
  CHECK(turned.af->box.centre_y() == doctest::Approx(.25));
  t.set("Photo.SubjectArea", {1, 2, 3, 4, 5});
  Capture wrong = frame(4032, 3024);
  read_exif_af(t, wrong);
  CHECK_FALSE(wrong.af);
  CHECK(wrong.notes.size() == 1);
}

}  // namespace
}  // namespace burstsieve::camera
