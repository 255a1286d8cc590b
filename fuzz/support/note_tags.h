// Tags in a compact form that a fuzzer can mutate: what a metadata library would hand to the camera module.
//
// A record is a list of answers. Each: 16 bits that name the question (kind and key, hashed), 8 or 24 bits of
// length (255 says that 16 more follow), the answer's bytes. Numbers are little-endian. Integers start with a
// byte that gives their width: 0..3 for 1, 2, 4 or 8 bytes, signed.
#pragma once
#include <map>
#include <memory>

#include "burstsieve/base/bytes.h"
#include "burstsieve/camera/tag_view.h"

namespace burstsieve::fuzz {

class NoteTags final : public camera::TagView {
 public:
  explicit NoteTags(Bytes record);
  std::optional<std::vector<std::int64_t>> ints(std::string_view key) const override;
  std::optional<std::vector<double>> numbers(std::string_view key) const override;
  std::optional<std::string> text(std::string_view key) const override;
  std::optional<std::vector<std::uint8_t>> bytes(std::string_view key) const override;

 private:
  const Bytes* find(char kind, std::string_view key) const;
  std::map<std::uint16_t, Bytes> answers_;
};

// Writes such a record.
class NoteWriter {
 public:
  NoteWriter& ints(std::string_view key, const std::vector<std::int64_t>& values);
  NoteWriter& numbers(std::string_view key, const std::vector<double>& values);
  NoteWriter& text(std::string_view key, std::string_view value);
  NoteWriter& bytes(std::string_view key, Bytes value);
  const ByteBuffer& record() const { return record_; }

 private:
  void answer(char kind, std::string_view key, Bytes value);
  ByteBuffer record_;
};

// Passes every question on and writes the answers down: how a real file becomes a seed.
class RecordingTags final : public camera::TagView {
 public:
  explicit RecordingTags(const camera::TagView& tags) : tags_(tags) {}
  std::optional<std::vector<std::int64_t>> ints(std::string_view key) const override;
  std::optional<std::vector<double>> numbers(std::string_view key) const override;
  std::optional<std::string> text(std::string_view key) const override;
  std::optional<std::vector<std::uint8_t>> bytes(std::string_view key) const override;
  const ByteBuffer& record() const { return writer_.record(); }

 private:
  bool first_time(char kind, std::string_view key) const;
  const camera::TagView& tags_;
  mutable NoteWriter writer_;
  mutable std::map<std::string, bool> asked_;
};

}  // namespace burstsieve::fuzz
