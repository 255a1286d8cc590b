// The program as a browser and an attacker meet it: by bare sockets.
#include <doctest/doctest.h>

#include <filesystem>

#include "burstsieve/decode/pixels.h"
#include "client.h"

using namespace burstsieve;
using namespace burstsieve::test;
namespace stdfs = std::filesystem;
using nlohmann::json;

namespace {

// Three frames of the samples, one a raw.
struct Card {
  Card() {
    const std::string from = std::string(BURSTSIEVE_SOURCE_DIR) + "/sample-bursts/DCIM/";
    stdfs::create_directories(folder.at("DCIM"));
    for (const char* name : {"100SALTM/BSG_9995.JPG", "100SALTM/BSG_9996.JPG", "100HARBR/MRS_0216.DNG"})
      stdfs::copy(from + name, folder.at("DCIM/" + stdfs::path(name).filename().string()));
  }
  std::string dcim() const { return folder.at("DCIM"); }
  TempFolder folder, home;
};

std::string body_of_chunks(const std::string& one, std::size_t n) {
  std::string out;
  for (std::size_t i = 0; i < n; ++i) out += one;
  return out;
}

}  // namespace

TEST_SUITE("serve/server") {
  TEST_CASE("the printed address leads in; page, shoot, thumbnails, whole frames and crops") {
    const Card card;
    ReviewProcess review(card.dcim(), card.home);
    REQUIRE(review.port() > 0);
    const Tab tab = review.tab();
    const json shoot = tab.get("/api/shoot").json();
    REQUIRE(shoot["frames"].size() == 3);
    for (const json& f : shoot["frames"]) {
      const std::string id = std::to_string(f["id"].get<int>());
      CAPTURE(f["name"].get<std::string>());
      for (const std::string& target : {"/thumb/" + id, "/full/" + id + "?side=200",
                                        "/crop/" + id + "?x=0.25&y=0.25&w=0.1&h=0.1&side=1000"}) {
        CAPTURE(target);
        const Answer picture = tab.get(target);
        CHECK(picture.status == 200);
        CHECK(picture.headers.at("content-type") == "image/jpeg");
        card.folder.write("out.jpg", picture.body);
        const FileRef file{card.folder.at("out.jpg"), FileKind::jpeg, "JPEG", 0, 0, 0};
        const auto planes = decode::decode_planes(file, 1, Limits{});
        REQUIRE(planes);
        CHECK(planes->damage == "");
        const int longest = std::max(planes->luma.cols, planes->luma.rows);
        if (target.starts_with("/full")) CHECK(longest == 200);
        if (target.starts_with("/crop"))
          CHECK(std::abs(longest - std::max(f["width"].get<double>(), f["height"].get<double>()) / 10) <= 1);
      }
    }
    const Answer changes = tab.get("/api/changes?since=0");
    CHECK(changes.json()["revision"] == 0);
    // What every answer carries.
    for (const Answer& a : {changes, tab.get("/thumb/1"), tab.get("/nowhere")}) {
      CHECK(a.headers.at("content-security-policy").find("default-src 'none'; script-src 'self'") == 0);
      CHECK(a.headers.at("x-content-type-options") == "nosniff");
      CHECK(a.headers.at("cache-control") == "no-store");
      CHECK(a.headers.count("access-control-allow-origin") == 0);
    }
    CHECK(review.end(SIGINT) == 0);
  }

  TEST_CASE("strangers: foreign names and origins, no cookie, no token, paths of every kind") {
    const Card card;
    card.folder.write("DCIM/secret.txt", "where the owl nests");
    stdfs::create_symlink(card.folder.at("DCIM/secret.txt"), card.folder.at("DCIM/link.jpg"));
    ReviewProcess review(card.dcim(), card.home);
    const Tab tab = review.tab();
    const auto with = [&](std::string host, const std::string& more, const std::string& method = "GET",
                          const std::string& target = "/api/shoot") {
      if (host.empty()) host = tab.host();
      return tab.raw(method + " " + target + " HTTP/1.1\r\nHost: " + host + "\r\n" + more +
                     "Connection: close\r\n\r\n");
    };
    const std::string cookie = "Cookie: " + tab.cookie + "\r\n";
    CHECK(with("", cookie).status == 200);
    CHECK(with("localhost:" + std::to_string(tab.port), cookie).status == 200);
    CHECK(with("harbour.example:" + std::to_string(tab.port), cookie).status == 403);
    CHECK(with(tab.host() + "\r\nHost: harbour.example", cookie).status == 403);
    CHECK(with("", "").status == 403);
    CHECK(with("", "Cookie: " + tab.cookie + "0\r\n").status == 403);
    CHECK(with("", cookie + "Sec-Fetch-Site: cross-site\r\n").status == 403);
    CHECK(with("", "", "GET", "/?t=" + std::string(32, '0')).status == 403);
    CHECK(with("", cookie, "DELETE").status == 405);
    for (const char* target : {"/", "/thumb/1", "/full/1", "/app/main.js", "/debrief"})
      CHECK(with("", "", "GET", target).status == 403);
    // Writes.
    const std::string ours = "Origin: http://" + tab.host() + "\r\n",
                      json_type = "Content-Type: application/json\r\n",
                      token = "X-Burstsieve-Token: " + tab.token + "\r\n", none = "Content-Length: 0\r\n";
    const auto write = [&](const std::string& more) {
      return with("", cookie + none + more, "POST", "/api/undo").status;
    };
    if (!tab.token.empty())
      CHECK(write(ours + token + json_type) == 409);  // let in; there is nothing to undo
    CHECK(write(token + json_type) == 403);
    CHECK(write("Origin: http://harbour.example\r\n" + token + json_type) == 403);
    CHECK(write("Origin: null\r\n" + token + json_type) == 403);
    CHECK(write(ours + json_type) == 403);
    CHECK(write(ours + "X-Burstsieve-Token: " + std::string(32, '0') + "\r\n" + json_type) == 403);
    // Ways to a file.
    for (const char* target : {"/thumb/../../etc/passwd",
                               "/thumb/%2e%2e/secret.txt",
                               "/app/../secret.txt",
                               "/app/..%2f..%2fsecret.txt",
                               "/app/index.html",
                               "/full/secret.txt",
                               "/thumb/link.jpg",
                               "/thumb/0",
                               "/thumb/4",
                               "/thumb/-1",
                               "/thumb/1/",
                               "/thumb//1",
                               "/app/",
                               "/app//etc/passwd",
                               "//etc/passwd",
                               "/etc/passwd",
                               "/crop/1.jpg?x=0&y=0&w=1&h=1",
                               "/api/frame/01",
                               "/api/burst/1/series/..",
                               "/debrief/.."}) {
      CAPTURE(target);
      const Answer a = tab.get(target);
      CHECK(a.status == 404);
      CHECK(a.body.find("owl") == std::string::npos);
    }
    const Answer debrief = tab.get("/debrief");
    CHECK(debrief.status == 200);
    CHECK(debrief.body.find("<svg") != std::string::npos);
    CHECK(debrief.body.find("<script") == std::string::npos);
    for (const char* target : {"/crop/1", "/crop/1?x=0&y=0&w=0&h=1", "/crop/1?x=nan&y=0&w=1&h=1",
                               "/full/1?side=0", "/full/1?side=100000", "/crop/1?x=2&y=2&w=1&h=1",
                               "/api/changes", "/api/changes?since=-1", "/api/shoot?%zz"})
      CHECK(tab.get(target).status == 400);
    // The link is no frame: nothing in the list leads to it.
    CHECK(tab.get("/api/shoot").body.find("link.jpg") == std::string::npos);
  }

  TEST_CASE(
      "floods: long headers and bodies, chunks without end, stalled and slow clients; memory stays small") {
    const Card card;
    ReviewProcess review(card.dcim(), card.home);
    const Tab tab = review.tab();
    tab.get("/full/1?side=500");
    const std::size_t before = review.memory();
    const std::string megabyte(1 << 20, 'a');
    // Told, where it still listens; cut off in any case.
    const auto flood = [&](const std::string& start, const std::string& part, std::size_t times) {
      const Socket s(tab.port);
      s.send(start);
      std::size_t sent = 0;
      while (sent < times && s.send(part)) ++sent;
      CHECK(sent < times);
      return answer_of(s.until_closed()).status;
    };
    const auto told = [](int status, int expected) { return status == 0 || status == expected; };
    CHECK(told(flood("GET / HTTP/1.1\r\nHost: " + tab.host() + "\r\nX-Tide: ", megabyte, 200), 431));
    CHECK(told(flood("GET /", megabyte, 200), 431));
    const std::string post = "POST /api/decide HTTP/1.1\r\nHost: " + tab.host() + "\r\n";
    CHECK(told(flood(post + "Content-Length: 209715200\r\n\r\n", megabyte, 200), 413));
    const std::string chunk = "10000\r\n" + std::string(0x10000, 'a') + "\r\n";
    CHECK(told(flood(post + "Transfer-Encoding: chunked\r\n\r\n", body_of_chunks(chunk, 16), 200), 413));
    // Just too long is told in words.
    const Answer long_header = tab.raw("GET / HTTP/1.1\r\nHost: " + tab.host() +
                                       "\r\nX-Tide: " + std::string(20'000, 'a') + "\r\n\r\n");
    CHECK(long_header.status == 431);
    CHECK(long_header.json()["error"].is_string());
    CHECK(tab.raw("tide tables\r\n\r\n").status == 400);
    CHECK(tab.raw("GET / HTTP/1.1\r\nHost: a b\r\nContent-Length: -1\r\n\r\n").status == 400);
    // 64 that say half a word, and 16 that ask and never read.
    std::vector<Socket> stalled;
    for (int i = 0; i < 64; ++i) {
      stalled.emplace_back(tab.port);
      stalled.back().send("GET /api/shoot HTTP/1.1\r\nHost: ");
    }
    for (int i = 0; i < 16; ++i) {
      stalled.emplace_back(tab.port);
      stalled.back().send(tab.head("GET", "/full/1?side=4096") + "\r\n" + tab.head("GET", "/full/2") +
                          "\r\n");
    }
    // One after the other they would hold up a client for 64 times 10 s; ours waits for 20.
    CHECK(tab.get("/api/shoot").status == 200);
    CHECK(tab.get("/thumb/1").status == 200);
    // The engine, a process of its own, holds the pictures.
#if defined(__SANITIZE_ADDRESS__)
    constexpr std::size_t room = 256u << 20;  // it keeps what was freed
#else
    constexpr std::size_t room = 48u << 20;
#endif
    CHECK(review.memory() < before + room);
  }

  TEST_CASE("two tabs: one decides, the other hears of it; killed and started again, nothing is lost") {
    const Card card;
    std::string session;
    {
      ReviewProcess review(card.dcim(), card.home);
      const Tab a = review.tab(), b = review.tab();
      session = a.get("/api/shoot").json()["session"];
      if (a.token.empty()) return;  // built without the page
      const Socket waiting(b.port);
      waiting.send(b.head("GET", "/api/changes?since=0&wait=1") + "Connection: close\r\n\r\n");
      CHECK(waiting.receive(150).empty());
      const Answer said = a.post("/api/decide", {{"frames", {1, 2}}, {"verdict", "reject"}});
      CHECK(said.status == 200);
      CHECK(said.json()["changed"].size() == 2);
      const json heard = answer_of(waiting.until_closed()).json();
      CHECK(heard["revision"] == 1);
      CHECK(heard["changed"][1] == json::parse(R"({"id":2,"mine":{"verdict":"reject","rating":null}})"));
      CHECK(b.post("/api/decide", {{"frames", {2}}, {"verdict", "keep"}, {"rating", 4}}).json()["revision"] ==
            2);
      CHECK(a.post("/api/undo").json()["changed"][0]["mine"]["verdict"] == "reject");
      CHECK(a.post("/api/decide", {{"frames", {99}}, {"verdict", "keep"}}).status == 400);
      review.end(SIGKILL);
    }
    ReviewProcess again(card.dcim(), card.home);
    const Tab tab = again.tab();
    const json shoot = tab.get("/api/shoot").json();
    CHECK(shoot["session"] == session);
    CHECK(shoot["revision"] == 3);
    CHECK(shoot["frames"][0]["mine"]["verdict"] == "reject");
    CHECK(shoot["frames"][1]["mine"]["verdict"] == "reject");
    CHECK(shoot["can_redo"] == true);
    // A second review of the folder would play the same log.
    ReviewProcess second(card.dcim(), card.home, {});
    CHECK(second.port() == 0);
    CHECK(second.errors().find("is already being reviewed by burstsieve review") != std::string::npos);
    const json done = tab.post("/api/done").json();
    CHECK(done["failed"].empty());
    CHECK(done["created"] == 3);
    CHECK(card.folder.read("DCIM/BSG_9995.JPG.xmp").find("Rating>-1<") != std::string::npos);
    CHECK(again.end(SIGTERM) == 0);
    CHECK(again.errors().find("not in the sidecars") == std::string::npos);
  }
}
