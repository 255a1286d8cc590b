// Who is let in, and what addresses and decisions may look like.
#include "burstsieve/serve/gate.h"

#include <doctest/doctest.h>

#include "burstsieve/serve/review.h"

using namespace burstsieve;
using namespace burstsieve::serve;

namespace {

const Secrets kSecrets{std::string(32, 'a'), std::string(32, 'b'), std::string(32, 'c')};

Request good_write() {
  Request r;
  r.method = "POST";
  r.target = "/api/undo";
  r.host = "127.0.0.1:4711";
  r.origin = "http://127.0.0.1:4711";
  r.cookie = "burstsieve_4711=" + kSecrets.cookie;
  r.token = kSecrets.page;
  r.content_type = "application/json";
  return r;
}

int status_of(const Request& r) {
  const auto target = parse_target(r.target);
  REQUIRE(target);
  const auto refused = Gate(4711, kSecrets).check(r, *target);
  return refused ? refused->status : 200;
}

template <class Change>
int status_with(Change change) {
  Request r = good_write();
  change(r);
  return status_of(r);
}

}  // namespace

TEST_SUITE("serve/gate") {
  TEST_CASE("the page is let in, by either name of this machine, among other cookies") {
    CHECK(status_of(good_write()) == 200);
    CHECK(status_with([](Request& r) {
            r.host = "localhost:4711";
            r.origin = "http://localhost:4711";
            r.fetch_site = "same-origin";
            r.cookie = "tide=high; " + r.cookie + "; burstsieve_4712=x";
          }) == 200);
  }

  TEST_CASE("each thing that may be wrong is refused by itself") {
    for (const char* host : {"", "127.0.0.1", "localhost", "127.0.0.1:4712", "harbour.example:4711",
                             "127.1:4711", "127.0.0.1:4711.harbour.example", "[::1]:4711", "LOCALHOST:4711 "})
      CHECK(status_with([&](Request& r) { r.host = host; }) == 403);
    for (const char* origin : {"", "null", "http://127.0.0.1", "http://localhost:4711",
                               "https://127.0.0.1:4711", "http://harbour.example", "http://127.0.0.1:47110"})
      CHECK(status_with([&](Request& r) { r.origin = origin; }) == 403);
    for (const std::string& cookie :
         {std::string(), std::string("burstsieve_4711="), "burstsieve_4712=" + kSecrets.cookie,
          "burstsieve_4711=" + kSecrets.page, kSecrets.cookie, "xburstsieve_4711=" + kSecrets.cookie})
      CHECK(status_with([&](Request& r) { r.cookie = cookie; }) == 403);
    for (const std::string& token : {std::string(), kSecrets.cookie, kSecrets.page + "c", std::string("c")})
      CHECK(status_with([&](Request& r) { r.token = token; }) == 403);
    for (const char* site : {"cross-site", "same-site", "elsewhere"})
      CHECK(status_with([&](Request& r) { r.fetch_site = site; }) == 403);
    for (const char* type : {"", "text/plain", "application/x-www-form-urlencoded"})
      CHECK(status_with([&](Request& r) { r.content_type = type; }) == 400);
    for (const char* method : {"PUT", "DELETE", "HEAD", "OPTIONS", "get", "TRACE"})
      CHECK(status_with([&](Request& r) { r.method = method; }) == 405);
  }

  TEST_CASE("the printed address gives the cookie once it is right, and leads on") {
    Request r;
    r.method = "GET";
    r.host = "127.0.0.1:4711";
    const Gate gate(4711, kSecrets);
    const auto right = gate.check(r, *parse_target("/?t=" + kSecrets.address));
    REQUIRE(right);
    CHECK(right->status == 303);
    CHECK(right->headers[1].second ==
          "burstsieve_4711=" + kSecrets.cookie + "; Path=/; HttpOnly; SameSite=Strict");
    CHECK(gate.address() == "http://127.0.0.1:4711/?t=" + kSecrets.address);
    for (const std::string& secret :
         {std::string(), std::string("a"), kSecrets.cookie, kSecrets.address + "a"})
      CHECK(gate.check(r, *parse_target("/?t=" + secret))->status == 403);
    // Nowhere else, and not under another name.
    CHECK(gate.check(r, *parse_target("/api/shoot?t=" + kSecrets.address))->status == 403);
    r.host = "harbour.example:4711";
    CHECK(gate.check(r, *parse_target("/?t=" + kSecrets.address))->status == 403);
  }

  TEST_CASE("secrets are long and never the same") {
    const auto a = make_secrets(), b = make_secrets();
    REQUIRE(a);
    REQUIRE(b);
    for (const std::string& s : {a->address, a->cookie, a->page}) CHECK(s.size() == 32);
    CHECK(a->address != a->cookie);
    CHECK(a->cookie != a->page);
    CHECK(a->address != b->address);
    CHECK(!same_secret("", ""));
  }

  TEST_CASE("addresses: parts are told apart, nonsense is refused") {
    const auto t = parse_target("/crop/7?x=.5&name=a%20b&empty=");
    REQUIRE(t);
    CHECK(t->path == "/crop/7");
    CHECK(t->query.at("x") == ".5");
    CHECK(t->query.at("name") == "a b");
    CHECK(t->query.at("empty") == "");
    for (const std::string& bad :
         {std::string(), std::string("crop"), std::string("/a b"), std::string("/a\tb"),
          std::string("/?x=%zz"), std::string("/?x=%4"), std::string("/?x=1&x=2"), std::string("/?=1"),
          std::string("/\x80"), "/" + std::string(3000, 'a'), std::string("http://127.0.0.1:4711/")}) {
      CAPTURE(bad);
      CHECK(!parse_target(bad));
    }
    std::string many = "/?";
    for (int i = 0; i < 17; ++i) many += "p" + std::to_string(i) + "=1&";
    CHECK(!parse_target(many));
  }

  TEST_CASE("ids and fractions are plain numbers within their range") {
    CHECK(parse_id("0", 9) == 0);
    CHECK(parse_id("9", 9) == 9);
    for (const char* bad :
         {"", "10", "-1", "+1", "1.0", "0x1", "01", " 1", "1 ", "9999999999", "../1", "1%00"})
      CHECK(!parse_id(bad, 9));
    CHECK(parse_fraction("0.25") == .25);
    CHECK(parse_fraction("-0.5") == -.5);
    for (const char* bad : {"", "nan", "inf", "1e9", "0x1p3", "1,5", "1 ", "--1"})
      CHECK(!parse_fraction(bad));
  }

  TEST_CASE("decisions: what the page says, and nothing else") {
    const auto d = parse_decision(R"({"frames":[3,"1",3],"verdict":"keep","rating":4})", 3);
    REQUIRE(d);
    CHECK((d->frames == std::vector<std::uint32_t>{1, 3}));
    CHECK(d->verdict == Verdict::keep);
    CHECK(d->rating == 4);
    CHECK(!parse_decision(R"({"frames":[1],"verdict":"none"})", 3)->verdict);
    CHECK(parse_decision(R"({"frames":[1],"verdict":"reject","rating":null})", 3));
    const std::string deep = std::string(100'000, '[');
    for (const std::string& bad :
         std::vector<std::string>{"",
                                  "null",
                                  "[]",
                                  "{}",
                                  R"({"frames":[],"verdict":"keep"})",
                                  R"({"frames":[4],"verdict":"keep"})",
                                  R"({"frames":[0],"verdict":"keep"})",
                                  R"({"frames":[-1],"verdict":"keep"})",
                                  R"({"frames":[1.5],"verdict":"keep"})",
                                  R"({"frames":[1],"verdict":"splendid"})",
                                  R"({"frames":[1],"verdict":1})",
                                  R"({"frames":1,"verdict":"keep"})",
                                  R"({"frames":["../1"],"verdict":"keep"})",
                                  R"({"frames":[1],"verdict":"keep","rating":0})",
                                  R"({"frames":[1],"verdict":"keep","rating":6})",
                                  R"({"frames":[1],"verdict":"keep","rating":"5"})",
                                  R"({"frames":[1],"verdict":"reject","rating":3})",
                                  R"({"frames":[1],"verdict":"keep"} )" + std::string("x"),
                                  R"({"frames":)" + deep,
                                  R"({"frames":[18446744073709551617],"verdict":"keep"})"}) {
      CAPTURE(bad.substr(0, 60));
      CHECK(!parse_decision(bad, 3));
    }
  }
}
