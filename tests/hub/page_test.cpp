#include <doctest/doctest.h>

#include <filesystem>
#include <fstream>

#include "sync/hub_page.h"
#include "tests/unit/ledger_folder.h"

namespace chipfall {
namespace {

namespace fs = std::filesystem;
namespace http = boost::beast::http;

void put(const fs::path& file, const std::string& text) {
  fs::create_directories(file.parent_path());
  std::ofstream(file, std::ios::binary) << text;
}

/// A page of three files, one of them also packed.
std::string page_in(const LedgerFolder& folder) {
  const fs::path top = folder.file("page");
  put(top / "index.html", "<title>page</title>");
  put(top / "assets/page-1a2b.js", "script");
  put(top / "assets/page-1a2b.js.gz", "packed");
  put(top / "zones/Etc/UTC", "TZif");
  return top.string();
}

HubRequest asking(const std::string& target, http::verb verb = http::verb::get) {
  return HubRequest(verb, target, 11);
}

std::string text_of(const HubResponse& response, std::string_view name) {
  const auto value = response[boost::beast::string_view(name.data(), name.size())];
  return {value.data(), value.size()};
}

TEST_CASE("the page's files come with their types and with headers that let it run only itself") {
  const LedgerFolder folder;
  const auto page = HubPage::read(page_in(folder));
  REQUIRE(page);
  const auto index = page->response(asking("/"));
  REQUIRE(index);
  CHECK(index->result() == http::status::ok);
  CHECK(index->body() == "<title>page</title>");
  CHECK(text_of(*index, "Content-Type") == "text/html; charset=utf-8");
  CHECK(text_of(*index, "Cache-Control") == "no-cache");
  CHECK(text_of(*index, "X-Content-Type-Options") == "nosniff");
  CHECK(text_of(*index, "Referrer-Policy") == "no-referrer");
  const std::string policy = text_of(*index, "Content-Security-Policy");
  CHECK(policy.find("default-src 'none'") != std::string::npos);
  CHECK(policy.find("unsafe-inline") == std::string::npos);
  CHECK(policy.find("'unsafe-eval'") == std::string::npos);
  CHECK(text_of(*page->response(asking("/zones/Etc/UTC")), "Content-Type") ==
        "application/octet-stream");
}

TEST_CASE("who takes packed files gets them, and names with a hash are kept for good") {
  const LedgerFolder folder;
  const auto page = HubPage::read(page_in(folder));
  REQUIRE(page);
  HubRequest request = asking("/assets/page-1a2b.js");
  CHECK(page->response(request)->body() == "script");
  request.set(http::field::accept_encoding, "br, gzip");
  const auto packed = page->response(request);
  CHECK(packed->body() == "packed");
  CHECK(text_of(*packed, "Content-Encoding") == "gzip");
  CHECK(text_of(*packed, "Content-Type") == "text/javascript; charset=utf-8");
  CHECK(text_of(*packed, "Cache-Control").find("immutable") != std::string::npos);
  CHECK_FALSE(page->response(asking("/assets/page-1a2b.js.gz")));
}

TEST_CASE("what a browser has already is not sent again, and a HEAD has no body") {
  const LedgerFolder folder;
  const auto page = HubPage::read(page_in(folder));
  REQUIRE(page);
  HubRequest again = asking("/?from=home");
  again.set(http::field::if_none_match, text_of(*page->response(asking("/")), "ETag"));
  CHECK(page->response(again)->result() == http::status::not_modified);
  CHECK(page->response(again)->body().empty());
  const auto head = page->response(asking("/", http::verb::head));
  CHECK(head->body().empty());
  CHECK(text_of(*head, "Content-Length") == "19");
}

TEST_CASE("nothing outside the page's folder is served") {
  const LedgerFolder folder;
  const std::string top = page_in(folder);
  put(fs::path(top).parent_path() / "key.pem", "secret");
  const auto page = HubPage::read(top);
  REQUIRE(page);
  for (const char* target : {"/../key.pem", "/..%2fkey.pem", "/assets/../../key.pem", "//key.pem",
                             "/assets", "/nothing", ""}) {
    CHECK_MESSAGE(!page->response(asking(target)), target);
  }
}

TEST_CASE("a folder without a page is a mistake that says what would be right") {
  const LedgerFolder folder;
  const auto missing = HubPage::read(folder.file("nowhere"));
  REQUIRE_FALSE(missing);
  CHECK(missing.error().place.file == folder.file("nowhere"));
  put(fs::path(folder.file("other")) / "readme.txt", "no page");
  const auto other = HubPage::read(folder.file("other"));
  REQUIRE_FALSE(other);
  CHECK(other.error().message.find("preview/phone/build") != std::string::npos);
}

}  // namespace
}  // namespace chipfall
