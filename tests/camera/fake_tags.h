// Tags handed to a maker by hand.
#pragma once
#include <cmath>
#include <map>
#include <string>

#include "burstsieve/camera/tag_view.h"

namespace burstsieve::camera {

class FakeTags final : public TagView {
 public:
  FakeTags& set(const std::string& key, std::vector<std::int64_t> values) {
    ints_[key] = std::move(values);
    return *this;
  }
  FakeTags& set_numbers(const std::string& key, std::vector<double> values) {
    numbers_[key] = std::move(values);
    return *this;
  }
  FakeTags& set_text(const std::string& key, std::string value) {
    text_[key] = std::move(value);
    return *this;
  }
  FakeTags& set_bytes(const std::string& key, std::vector<std::uint8_t> value) {
    bytes_[key] = std::move(value);
    return *this;
  }

  std::optional<std::vector<std::int64_t>> ints(std::string_view key) const override {
    return in(ints_, key);
  }
  std::optional<std::vector<double>> numbers(std::string_view key) const override {
    if (auto v = in(numbers_, key)) return v;
    if (const auto v = in(ints_, key)) return std::vector<double>(v->begin(), v->end());
    return std::nullopt;
  }
  std::optional<std::string> text(std::string_view key) const override { return in(text_, key); }
  std::optional<std::vector<std::uint8_t>> bytes(std::string_view key) const override {
    return in(bytes_, key);
  }

 private:
  template <class T>
  static std::optional<T> in(const std::map<std::string, T, std::less<>>& map, std::string_view key) {
    const auto at = map.find(key);
    if (at == map.end()) return std::nullopt;
    return at->second;
  }
  std::map<std::string, std::vector<std::int64_t>, std::less<>> ints_;
  std::map<std::string, std::vector<double>, std::less<>> numbers_;
  std::map<std::string, std::string, std::less<>> text_;
  std::map<std::string, std::vector<std::uint8_t>, std::less<>> bytes_;
};

}  // namespace burstsieve::camera
