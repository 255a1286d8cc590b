// Stored records that lie about what they hold. The target adds the checksum; see fuzz/catalog/records.cpp.
#include <limits>

#include "builder.h"
#include "cases.h"
#include "codec.h"

namespace burstsieve::fuzz {
namespace {

using namespace burstsieve::catalog;

ByteBuffer body(ByteBuffer record) {
  record.resize(record.size() - 8);
  return record;
}

Capture capture() {
  Capture c;
  c.make = "Saltmarsh";
  c.distance = SubjectDistance{20, 18, 22, "test"};
  c.af = AfArea{{.1, .2, .3, .4}, .9, "test"};
  c.notes = {"a note"};
  return c;
}

FrameFacts facts() {
  FrameFacts f;
  f.decoded = true;
  f.subjects = {{{.1, .1, .2, .2}, Region{.1, .1, .05, .05}, .5, "AF area"}};
  f.mask = {2, 2, {1, 0, 0, 1}};
  f.measures = {{"blur_sigma_px", std::numeric_limits<double>::quiet_NaN(), "px", .9, "jpeg"}};
  return f;
}

ByteBuffer start(char kind) {
  return {kLayout, static_cast<std::uint8_t>(kind)};
}

}  // namespace

void add_records(Cases& to) {
  const auto add = [&](const char* name, const ByteBuffer& bytes) { to.push_back({"records", name, bytes}); };
  add("capture.rec", body(encode(capture())));
  add("facts-with-a-value-that-is-no-number.rec", body(encode(facts())));
  add("verdict.rec", body(encode(FrameVerdict{})));
  add("empty.rec", {});
  add("kind-nobody-knows.rec", start('z'));
  add("text-of-four-gigabytes.rec", Builder(start('c')).u32(0xffffffff).text("x").done());
  add("four-billion-reasons.rec", Builder(start('v')).u8(1).u8(0).u32(0xffffffff).fill(64, 0).done());
  add("verdict-beyond-the-last.rec", Builder(start('v')).u8(3).u8(0).u32(0).fill(12, 0).done());
  add("truth-value-of-two.rec", Builder(start('v')).u8(1).u8(2).u32(0).u32(0).fill(12, 0).done());
  ByteBuffer longer = body(encode(FrameVerdict{}));
  longer.push_back(0);
  add("one-byte-too-many.rec", longer);
  ByteBuffer shorter = body(encode(capture()));
  shorter.pop_back();
  add("one-byte-too-few.rec", shorter);
  FrameFacts lying = facts();
  lying.mask.cols = -2;
  lying.mask.rows = -2;
  add("mask-of-minus-two-squared.rec", body(encode(lying)));
  lying.mask = {2, 2, {1, 0, 0, 1}, {.9, 0, 1, 1}};
  add("mask-beside-the-frame.rec", body(encode(lying)));
  lying.mask = {1 << 16, 1 << 16, {}};
  add("mask-whose-size-wraps-to-nothing.rec", body(encode(lying)));
}

void add_texts(Cases& to) {
  const auto add = [&](const char* name, std::string_view text) {
    to.push_back({"text", name, ByteBuffer(text.begin(), text.end())});
  };
  using namespace std::string_view_literals;
  add("plain", "Curlew on the mud \xe2\x80\x93 low tide");
  add("escape-clears-the-screen", "\x1b[2J.JPG");
  add("newline-forges-a-line", "IMG_0001.JPG\nIMG_0002.JPG: keep");
  add("nul-in-the-middle", "IMG\0.JPG"sv);
  add("continuation-byte-alone", "a\x80z");
  add("four-byte-sequence-cut", "a\xf0\x9f\x90");
  add("overlong-slash", "\xc0\xaf");
  add("surrogate-half", "\xed\xa0\x80");
  add("beyond-the-last-code-point", "\xf4\x90\x80\x80");
  add("c1-control-drives-a-terminal",
      "\xc2\x9b"
      "2J");
  add("right-to-left-marks-stay",
      "\xe2\x80\xae"
      "gpj");
}

}  // namespace burstsieve::fuzz
