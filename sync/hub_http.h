#pragma once

#include <boost/beast/http/empty_body.hpp>
#include <boost/beast/http/message.hpp>
#include <boost/beast/http/string_body.hpp>
#include <string>
#include <vector>

#include "sync/hub_counts.h"

/// What the hub answers to plain HTTP: who may connect, /healthz and /metrics.
namespace chipfall {

using HubRequest = boost::beast::http::request<boost::beast::http::empty_body>;
using HubResponse = boost::beast::http::response<boost::beast::http::string_body>;

class HubPage;
struct HubAuthority;

/// Of the hub, when it is asked.
struct HubFront {
  const std::vector<std::string>& origins;  ///< pages that may connect, beside the hub's own
  bool stopping = false;
  bool may_see_metrics = false;             ///< this computer, or everyone by the settings
  const HubPage* page = nullptr;            ///< null: no page is served
  const HubAuthority* authority = nullptr;  ///< null: the shop has none of its own
};

/// A browser says which page connects. A page of the hub itself may, others must be named.
bool may_come_from(const HubRequest& request, const std::vector<std::string>& allowed);
bool from_browser(const HubRequest& request);
/// Whether the request is a device's WebSocket.
bool wants_sync(const HubRequest& request);

/// Every other request's answer; the counts are up to date.
HubResponse hub_response(const HubRequest& request, const HubFront& front, HubCounts& counts);

}  // namespace chipfall
