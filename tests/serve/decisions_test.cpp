// The log of decisions, played, against a twin that keeps every state.
#include "burstsieve/serve/decisions.h"

#include <doctest/doctest.h>

#include <random>

using namespace burstsieve;
using namespace burstsieve::serve;

namespace {

const std::vector<Decisions::Key> kKeys{{"/marsh/A.JPG", 11}, {"/marsh/B.JPG", 22}, {"/marsh/C.JPG", 33}};

ReviewChoice choice(std::size_t frame, std::optional<Verdict> verdict, std::optional<int> rating = {}) {
  return {kKeys[frame].path, kKeys[frame].fingerprint, verdict, rating, ""};
}
ReviewStep decide(std::vector<ReviewChoice> choices) {
  return {ReviewStep::Kind::decide, 0, std::move(choices)};
}
const ReviewStep kUndo{ReviewStep::Kind::undo, 0, {}};
const ReviewStep kRedo{ReviewStep::Kind::redo, 0, {}};

using State = std::vector<std::optional<Mine>>;
State state_of(const Decisions& d) {
  return {d.of(0), d.of(1), d.of(2)};
}

}  // namespace

TEST_SUITE("serve/decisions") {
  TEST_CASE("decide, undo, redo; deciding anew forgets what could be redone") {
    Decisions d(kKeys);
    CHECK(!d.can_undo());
    d.play(decide({choice(0, Verdict::keep, 4), choice(1, Verdict::keep, 4)}));
    CHECK(d.of(0)->rating == 4);
    CHECK(d.what() == "keep, rating 4: 2 frames");
    d.play(decide({choice(0, Verdict::reject)}));
    CHECK(d.of(0)->verdict == Verdict::reject);
    d.play(kUndo);
    CHECK(d.of(0)->verdict == Verdict::keep);
    CHECK(d.what() == "undo: reject: 1 frame");
    CHECK(d.can_redo());
    CHECK((d.changed_since(2) == std::vector<std::size_t>{0}));
    CHECK((d.changed_since(0) == std::vector<std::size_t>{0, 1}));
    d.play(kRedo);
    CHECK(d.of(0)->verdict == Verdict::reject);
    d.play(kUndo);
    d.play(decide({choice(2, Verdict::undecided)}));
    CHECK(!d.can_redo());
    CHECK(d.revision() == 6);
    d.play(decide({choice(0, std::nullopt)}));
    CHECK(!d.of(0));
  }

  TEST_CASE("another photograph of the same name, and one that is gone, are passed over") {
    Decisions d(kKeys);
    d.play(
        decide({{"/marsh/A.JPG", 99, Verdict::reject, {}, ""}, {"/gone.JPG", 1, Verdict::reject, {}, ""}}));
    CHECK(!d.of(0));
    CHECK(!d.can_undo());
    CHECK(d.revision() == 1);
    d.play(decide({choice(1, Verdict::keep), {"/gone.JPG", 1, Verdict::keep, {}, ""}}));
    CHECK(d.of(1));
    d.play(kUndo);
    CHECK(!d.of(1));
    d.play(kUndo);  // of nothing
    CHECK(!d.can_undo());
    d.play(kRedo);
    CHECK(d.of(1));
  }

  TEST_CASE("a thousand random steps are what a list of whole states says") {
    for (unsigned seed = 1; seed <= 20; ++seed) {
      std::minstd_rand random(seed);
      Decisions d(kKeys);
      std::vector<State> states{State(3)};
      std::size_t at = 0;
      for (int i = 0; i < 50; ++i) {
        switch (random() % 4) {
          case 0:
            d.play(kUndo);
            if (at > 0) --at;
            break;
          case 1:
            d.play(kRedo);
            if (at + 1 < states.size()) ++at;
            break;
          default: {
            State next = states[at];
            std::vector<ReviewChoice> choices;
            for (std::size_t f = 0; f < 3; ++f) {
              if (random() % 2) continue;
              const bool none = random() % 4 == 0;
              const auto verdict = static_cast<Verdict>(random() % 3);
              choices.push_back(choice(f, none ? std::nullopt : std::optional(verdict)));
              next[f] = none ? std::nullopt : std::optional(Mine{verdict, {}, ""});
            }
            if (choices.empty()) continue;
            d.play(decide(choices));
            states.resize(at + 1);
            states.push_back(next);
            ++at;
          }
        }
        REQUIRE((state_of(d) == states[at]));
        REQUIRE(d.can_undo() == (at > 0));
        REQUIRE(d.can_redo() == (at + 1 < states.size()));
      }
    }
  }
}
