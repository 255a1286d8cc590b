#include "burstsieve/model/verdict.h"

namespace burstsieve {

const char* name_of(Verdict verdict) {
  switch (verdict) {
    case Verdict::undecided:
      return "undecided";
    case Verdict::keep:
      return "keep";
    case Verdict::reject:
      return "reject";
  }
  return "undecided";
}

}  // namespace burstsieve
