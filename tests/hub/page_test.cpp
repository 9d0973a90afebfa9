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

/// A page of three files, one of them also packed in both ways.
std::string page_in(const LedgerFolder& folder) {
  const fs::path top = folder.file("page");
  put(top / "index.html", "<title>page</title>");
  put(top / "assets/page-1a2b.js", "script");
  put(top / "assets/page-1a2b.js.gz", "gzipped");
  put(top / "assets/page-1a2b.js.br", "as Brotli");
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
  CHECK(text_of(*page->response(request), "Content-Encoding").empty());
  request.set(http::field::accept_encoding, "gzip, deflate, br, zstd");
  const auto packed = page->response(request);
  CHECK(packed->body() == "as Brotli");
  CHECK(text_of(*packed, "Content-Encoding") == "br");
  CHECK(text_of(*packed, "Content-Length") == "9");
  CHECK(text_of(*packed, "Vary") == "Accept-Encoding");
  CHECK(text_of(*packed, "Content-Type") == "text/javascript; charset=utf-8");
  CHECK(text_of(*packed, "Cache-Control").find("immutable") != std::string::npos);
  CHECK_FALSE(page->response(asking("/assets/page-1a2b.js.gz")));
  CHECK_FALSE(page->response(asking("/assets/page-1a2b.js.br")));
}

TEST_CASE("each browser gets the smallest of the forms that it says it takes") {
  const LedgerFolder folder;
  const auto page = HubPage::read(page_in(folder));
  REQUIRE(page);
  const auto body_for = [&](const std::string& accepted) {
    HubRequest request = asking("/assets/page-1a2b.js");
    request.set(http::field::accept_encoding, accepted);
    return page->response(request)->body();
  };
  for (const char* accepted :
       {"br", "gzip, br", "GZIP;Q=1, BR", "*", "br;q=0.2", "gzip;q=0, *;q=0.1", "gzip;q=0, br",
        "gzip;q=0.5,br;q=0.5", "br;q=1.000 , gzip"}) {
    CHECK_MESSAGE(body_for(accepted) == "as Brotli", std::string(accepted));
  }
  for (const char* accepted :
       {"gzip", "gzip, deflate", "gzip, br;q=0", "br;q=0.000, *", "br;q=0.4, gzip;q=0.5",
        "gzip, br;q=2", "gzip, br;q=nan", "gzip, br;q=", "gzip;q=0.1, broccoli"}) {
    CHECK_MESSAGE(body_for(accepted) == "gzipped", std::string(accepted));
  }
  for (const char* accepted :
       {"", "identity", "deflate, zstd", "gzip;q=0, br;q=0", "*;q=0", "not-gzip, x-br", "gzip;q=-1",
        "gzip;q=1x", ";;;,,\"", "br q=1", ";q=1"}) {
    CHECK_MESSAGE(body_for(accepted) == "script", std::string(accepted));
  }
}

TEST_CASE("a browser may say what it takes in several lines") {
  const LedgerFolder folder;
  const auto page = HubPage::read(page_in(folder));
  REQUIRE(page);
  HubRequest request = asking("/assets/page-1a2b.js");
  request.insert(http::field::accept_encoding, "deflate");
  request.insert(http::field::accept_encoding, "gzip;q=0.5");
  CHECK(page->response(request)->body() == "gzipped");
  request.insert(http::field::accept_encoding, "br");
  CHECK(page->response(request)->body() == "as Brotli");
}

TEST_CASE("a file's forms are told apart, so that none is taken for another that is kept") {
  const LedgerFolder folder;
  const auto page = HubPage::read(page_in(folder));
  REQUIRE(page);
  HubRequest request = asking("/assets/page-1a2b.js");
  const std::string plain = text_of(*page->response(request), "ETag");
  request.set(http::field::accept_encoding, "br");
  const std::string packed = text_of(*page->response(request), "ETag");
  CHECK(plain != packed);
  request.set(http::field::if_none_match, packed);
  CHECK(page->response(request)->result() == http::status::not_modified);
  request.set(http::field::if_none_match, plain);
  CHECK(page->response(request)->result() == http::status::ok);
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
