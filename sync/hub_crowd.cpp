#include <boost/asio/redirect_error.hpp>
#include <boost/asio/use_awaitable.hpp>

#include "sync/hub_inside.h"

#ifdef __GLIBC__  // which the ones before have defined
#include <malloc.h>
#endif

/// What a hub does for the connections that are there: entries to the writer, pages in turns, news
/// of members, ticks.
namespace chipfall {

namespace {

constexpr std::int64_t kManyConnections = 100;  // 1 MB of holes
constexpr int kPassesOnAtOnce = 8;              // connections, before others have their turn

}  // namespace

void HubServer::Inside::store(const std::shared_ptr<HubConnection>& from, Offer offer) {
  auto* log = static_cast<SqliteHubLog*>(from->session().log());
  writer_->take({log, std::move(offer), [this, from](std::uint64_t ticket, auto verdicts) {
                   asio::post(io_, [this, from, ticket, verdicts = std::move(verdicts)] {
                     from->stored(ticket, verdicts);
                     if (verdicts) grew(from->session().log());
                   });
                 }});
}

void HubServer::Inside::wants_pages(const std::shared_ptr<HubConnection>& connection) {
  page_turns_[connection.get()] = connection;
  pages_wanted_.cancel();
}

/// Pages go out connection by connection, a few at a time, so that one that is far behind does not
/// hold up the others.
asio::awaitable<void> HubServer::Inside::pass_on_pages() {
  while (true) {
    if (page_turns_.empty()) {
      error_code woken;
      pages_wanted_.expires_at(asio::steady_timer::time_point::max());
      co_await pages_wanted_.async_wait(asio::redirect_error(asio::use_awaitable, woken));
    }
    Connections turns;
    turns.swap(page_turns_);
    int served = 0;
    for (const auto& [address, weak] : turns) {
      if (const auto connection = weak.lock()) connection->log_grew();
      if (++served % kPassesOnAtOnce == 0) co_await asio::post(io_, asio::use_awaitable);
    }
    co_await asio::post(io_, asio::use_awaitable);
  }
}

std::vector<std::shared_ptr<HubConnection>> HubServer::Inside::connections_of(
    const HubLog* log) const {
  std::vector<std::shared_ptr<HubConnection>> found;
  for (const auto& [address, weak] : connections_) {
    auto connection = weak.lock();
    if (connection && (log == nullptr || connection->session().log() == log)) {
      found.push_back(std::move(connection));
    }
  }
  return found;
}

/// Tells the shop's connections, together with what else arrives within kLiveUpdate_ms.
void HubServer::Inside::grew(const HubLog* log) {
  if (!grown_.insert(log).second) return;
  growth_.expires_after(std::chrono::milliseconds(kLiveUpdate_ms));
  growth_.async_wait([this](error_code cancelled) {
    if (cancelled) return;  // another shop grew meanwhile: its wait tells of both
    for (const HubLog* grown : std::exchange(grown_, {})) {
      for (const auto& connection : connections_of(grown)) wants_pages(connection);
    }
  });
}

/// Another process may have revoked a device.
asio::awaitable<void> HubServer::Inside::look_for_membership() {
  while (true) {
    co_await wait(kMembershipLook_ms);
    for (const HubLog* log : shops_.with_changed_devices()) {
      for (const auto& connection : connections_of(log)) connection->membership_changed();
    }
  }
}

asio::awaitable<void> HubServer::Inside::tick_all() {
  while (true) {
    co_await wait(options_.tick_ms);
    for (const auto& connection : connections_of(nullptr)) connection->tick();
    for (SqliteHubLog* log : shops_.look_for_new()) writer_->look_after(log);
    certificate_.look(now().utc_ms / 1000, journal_);
    give_back_memory();
  }
}

/// From the thread that serves: where that hangs, nothing is told and the hub is started again.
asio::awaitable<void> HubServer::Inside::tell_that_it_lives() {
  while (true) {
    service_.tell("WATCHDOG=1");
    co_await wait(std::max<std::int64_t>(1, service_.watchdog_ms() / 3));
  }
}

/// Handshakes leave holes in the heap, a quarter of what their connections need from then on. After
/// many of them, once no more come, the system gets these back.
void HubServer::Inside::give_back_memory() {
  const std::int64_t total = counts_.connections_total;
  const bool quiet = std::exchange(seen_connections_, total) == total;
  if (!quiet || total - trimmed_at_connections_ < kManyConnections) return;
  trimmed_at_connections_ = total;
#ifdef __GLIBC__
  ::malloc_trim(0);
#endif
}

void HubServer::Inside::went_live(const std::shared_ptr<HubConnection>& connection,
                                  const std::string& before_name) {
  // Its double may come by the name that it has left, and is not to turn it away.
  const auto left = live_.find({connection->session().log(), before_name});
  if (left != live_.end() && left->second.lock() == connection) live_.erase(left);
  auto& place = live_[{connection->session().log(), connection->session().device()}];
  const auto before = place.lock();
  place = connection;
  if (before && before != connection) before->replaced();
}

void HubServer::Inside::ended(HubConnection& connection) {
  connections_.erase(&connection);
  page_turns_.erase(&connection);
  const auto live = live_.find({connection.session().log(), connection.session().device()});
  if (live != live_.end() && live->second.lock().get() == &connection) live_.erase(live);
}

}  // namespace chipfall
