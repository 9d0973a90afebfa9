#include "sync/hub_http.h"

#include <fmt/format.h>

#include <algorithm>
#include <boost/beast/websocket/rfc6455.hpp>

#include "sync/hub_authority_page.h"
#include "sync/hub_page.h"
#include "sync/hub_path.h"

namespace chipfall {

namespace http = boost::beast::http;

namespace {

std::string_view view_of(boost::beast::string_view text) { return {text.data(), text.size()}; }

HubResponse response_with(const HubRequest& request, http::status status, std::string body,
                          const char* type = "text/plain") {
  HubResponse response(status, request.version());
  response.set(http::field::server, "chipfall-hub");
  response.set(http::field::content_type, type);
  response.set(http::field::cache_control, "no-store");
  response.keep_alive(false);
  const std::size_t bytes = body.size();
  if (request.method() != http::verb::head) response.body() = std::move(body);
  response.content_length(bytes);
  return response;
}

}  // namespace

bool from_browser(const HubRequest& request) {
  return request.find(http::field::origin) != request.end();
}

bool may_come_from(const HubRequest& request, const std::vector<std::string>& allowed) {
  if (!from_browser(request)) return true;
  const std::string from(view_of(request[http::field::origin]));
  if (from == fmt::format("https://{}", view_of(request[http::field::host]))) return true;
  return std::find(allowed.begin(), allowed.end(), from) != allowed.end();
}

bool wants_sync(const HubRequest& request) {
  return boost::beast::websocket::is_upgrade(request) && view_of(request.target()) == kSyncPath;
}

HubResponse hub_response(const HubRequest& request, const HubFront& front, HubCounts& counts) {
  const auto answer = [&](http::status status, std::string body, const char* type = "text/plain") {
    return response_with(request, status, std::move(body), type);
  };
  const std::string_view target = view_of(request.target());
  if (target == kSyncPath) {
    if (front.stopping) return answer(http::status::service_unavailable, "stopping\n");
    if (may_come_from(request, front.origins)) {
      return answer(http::status::upgrade_required, "phones connect here with WebSocket\n");
    }
    ++counts.turned_away_origin;
    return answer(http::status::forbidden, "this page may not connect; see the setting origins\n");
  }
  if (request.method() != http::verb::get && request.method() != http::verb::head) {
    return answer(http::status::method_not_allowed, "only GET\n");
  }
  if (target == "/healthz") {
    if (front.stopping) return answer(http::status::service_unavailable, "stopping\n");
    if (counts.disk_full != 0) {
      return answer(http::status::service_unavailable, "the disk is full\n");
    }
    return answer(http::status::ok, "ok\n");
  }
  if (target == "/metrics") {
    if (!front.may_see_metrics) {
      return answer(http::status::forbidden, "only for this computer; see metrics-for-all\n");
    }
    return answer(http::status::ok, metrics_text(counts), "text/plain; version=0.0.4");
  }
  if (front.authority != nullptr) {
    if (auto given = authority_response(request, *front.authority)) return *std::move(given);
  }
  if (front.page != nullptr) {
    if (auto file = front.page->response(request)) return *std::move(file);
  }
  return answer(http::status::not_found, "here are /healthz, /metrics and /sync\n");
}

}  // namespace chipfall
