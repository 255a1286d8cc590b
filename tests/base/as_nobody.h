// Permissions as an ordinary user meets them.
#pragma once
#include <doctest/doctest.h>
#include <unistd.h>

namespace burstsieve::test {

// The superuser may write anywhere: permissions are tested as somebody else.
class AsNobody {
 public:
  AsNobody() : was_(::geteuid()) {
    if (was_ == 0) REQUIRE(::seteuid(65534) == 0);
  }
  AsNobody(const AsNobody&) = delete;
  AsNobody& operator=(const AsNobody&) = delete;
  ~AsNobody() {
    if (was_ == 0) static_cast<void>(::seteuid(0) == 0);
  }

 private:
  uid_t was_;
};

}  // namespace burstsieve::test
