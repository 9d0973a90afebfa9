#include "sync/hub_page.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <filesystem>
#include <fstream>
#include <utility>

#include "sync/secret.h"

namespace chipfall {

namespace fs = std::filesystem;
namespace http = boost::beast::http;

namespace {

constexpr std::string_view kAssets = "/assets/";
constexpr const char* kKeepForGood = "public, max-age=31536000, immutable";

/// What a page may do: its own files, its own core, the hub's socket. `wasm-unsafe-eval` allows
/// WebAssembly and nothing else (CSP level 3).
constexpr const char* kPolicy =
    "default-src 'none'; script-src 'self' 'wasm-unsafe-eval'; style-src 'self'; img-src 'self'; "
    "connect-src 'self' wss:; manifest-src 'self'; worker-src 'self'; base-uri 'none'; "
    "form-action 'none'; frame-ancestors 'none'";

const char* type_of(std::string_view path) {
  constexpr std::array<std::pair<std::string_view, const char*>, 8> kTypes{{
      {".html", "text/html; charset=utf-8"},
      {".js", "text/javascript; charset=utf-8"},
      {".css", "text/css; charset=utf-8"},
      {".svg", "image/svg+xml"},
      {".png", "image/png"},
      {".wasm", "application/wasm"},
      {".webmanifest", "application/manifest+json"},
      {".txt", "text/plain; charset=utf-8"},
  }};
  for (const auto& [ending, type] : kTypes) {
    if (path.ends_with(ending)) return type;
  }
  return "application/octet-stream";
}

Error page_error(ErrorCode code, std::string message, const std::string& place) {
  Error error;
  error.code = code;
  error.message = std::move(message);
  error.place.file = place;
  return error;
}

OrError<std::string> bytes_of(const fs::path& file) {
  std::ifstream in(file, std::ios::binary);
  std::string bytes((std::istreambuf_iterator<char>(in)), std::istreambuf_iterator<char>());
  if (!in) {
    return tl::unexpected(page_error(
        ErrorCode::kUnreadable, "could not be read. May the hub's user read it?", file.string()));
  }
  return bytes;
}

/// The start of SHA-256: enough to tell versions of one file apart.
std::string hash_of(std::string_view bytes) {
  std::string hash;
  for (const char byte : sha256(bytes).substr(0, 12)) {
    hash += fmt::format("{:02x}", static_cast<unsigned char>(byte));
  }
  return hash;
}

std::string_view view_of(boost::beast::string_view text) { return {text.data(), text.size()}; }

/// Which packing a file of this name is, by its ending.
std::optional<std::size_t> packing_of(std::string_view path) {
  for (std::size_t i = 0; i < kPackings.size(); ++i) {
    if (path.ends_with(kPackings[i].ending)) return i;
  }
  return std::nullopt;
}

/// The path of a target, without what follows a `?`. Nothing is decoded: no file of the page has a
/// name that would need it.
std::string_view path_of(std::string_view target) { return target.substr(0, target.find('?')); }

}  // namespace

OrError<HubPage> HubPage::read(const std::string& folder) {
  HubPage page;
  std::map<std::string, std::array<std::string, kPackings.size()>> packed;
  std::size_t files = 0, bytes = 0;
  std::error_code failed;
  const fs::path top(folder);
  fs::recursive_directory_iterator at(top, failed);
  for (; !failed && at != fs::recursive_directory_iterator(); at.increment(failed)) {
    if (!at->is_regular_file()) continue;
    OrError<std::string> read = bytes_of(at->path());
    if (!read) return tl::unexpected(read.error());
    bytes += read->size();
    std::string path = fmt::format("/{}", at->path().lexically_relative(top).generic_string());
    if (bytes > kMostPageBytes || ++files > kMostPageFiles) {
      return tl::unexpected(page_error(ErrorCode::kOutOfBounds,
                                       "is larger than a page ever is. Name the folder that "
                                       "preview/phone/build made.",
                                       folder));
    }
    if (const auto packing = packing_of(path)) {
      path.resize(path.size() - std::string_view(kPackings[*packing].ending).size());
      packed[path][*packing] = *std::move(read);
    } else {
      page.files_[path].bytes = *std::move(read);
    }
  }
  if (failed) {
    return tl::unexpected(page_error(
        ErrorCode::kUnreadable, fmt::format("could not be read: {}", failed.message()), folder));
  }
  const auto index = page.files_.find("/index.html");
  if (index == page.files_.end()) {
    return tl::unexpected(page_error(ErrorCode::kMistake,
                                     "has no index.html. Name the folder that preview/phone/build "
                                     "made.",
                                     folder));
  }
  for (auto& [path, bytes_packed] : packed) {
    const auto whole = page.files_.find(path);
    if (whole != page.files_.end()) whole->second.packed = std::move(bytes_packed);
  }
  for (auto& [path, file] : page.files_) {
    file.type = type_of(path);
    file.hash = hash_of(file.bytes);
  }
  page.files_["/"] = std::move(index->second);
  page.files_.erase(index);
  return page;
}

std::optional<HubResponse> HubPage::response(const HubRequest& request) const {
  const std::string_view path = path_of(view_of(request.target()));
  const auto found = files_.find(path);
  if (found == files_.end()) return std::nullopt;
  const File& file = found->second;
  Packed there{};
  std::transform(file.packed.begin(), file.packed.end(), there.begin(),
                 [](const std::string& bytes) { return !bytes.empty(); });
  const auto packing = packing_for(request, there);
  const std::string etag = fmt::format("\"{}{}{}\"", file.hash, packing ? "-" : "",
                                       packing ? kPackings[*packing].coding : "");
  const bool known = view_of(request[http::field::if_none_match]) == etag;

  HubResponse response(known ? http::status::not_modified : http::status::ok, request.version());
  response.set(http::field::server, "chipfall-hub");
  response.set(http::field::content_type, file.type);
  response.set(http::field::etag, etag);
  response.set(http::field::vary, "Accept-Encoding");
  response.set(http::field::cache_control, path.starts_with(kAssets) ? kKeepForGood : "no-cache");
  response.set("Content-Security-Policy", kPolicy);
  response.set("X-Content-Type-Options", "nosniff");
  response.set("Referrer-Policy", "no-referrer");
  response.set("Permissions-Policy", "camera=(self), geolocation=(), microphone=()");
  response.set("Cross-Origin-Opener-Policy", "same-origin");
  if (packing) response.set(http::field::content_encoding, kPackings[*packing].coding);
  response.keep_alive(false);
  if (known) return response;
  const std::string& body = packing ? file.packed[*packing] : file.bytes;
  if (request.method() != http::verb::head) response.body() = body;
  response.content_length(body.size());
  return response;
}

}  // namespace chipfall
