// Keeps what set-aside told.
#pragma once
#include <string>
#include <vector>

#include "burstsieve/pipeline/set_aside.h"

namespace burstsieve::test {

struct AsideRecorder final : pipeline::SetAsideListener {
  void folders(const std::vector<std::string>& p, bool) override { places = p; }
  void frame(const pipeline::AsideFrame& f) override { frames.push_back(f); }
  void note(const std::string& path, const std::string& text) override {
    notes.push_back(path + ": " + text);
  }
  void error(const Error& e) override { errors.push_back(e.line()); }
  std::vector<std::string> places;
  std::vector<pipeline::AsideFrame> frames;
  std::vector<std::string> notes, errors;
};

}  // namespace burstsieve::test
