#pragma once

#include <algorithm>
#include <boost/asio/awaitable.hpp>
#include <boost/asio/io_context.hpp>
#include <boost/asio/ip/tcp.hpp>
#include <boost/asio/post.hpp>
#include <boost/asio/steady_timer.hpp>
#include <map>
#include <memory>
#include <optional>
#include <set>
#include <string>
#include <utility>
#include <vector>

#include "sync/hub_certificate.h"
#include "sync/hub_connection.h"
#include "sync/hub_http.h"
#include "sync/hub_page.h"
#include "sync/hub_server.h"
#include "sync/hub_service.h"
#include "sync/hub_shops.h"
#include "sync/hub_socket.h"
#include "sync/hub_writer.h"
#include "sync/installation.h"

/// The hub while it serves, all on one thread but the writer's. hub_server.cpp opens and ends it,
/// and lets connections in; hub_crowd.cpp is what it does for those that are there.
namespace chipfall {

namespace asio = boost::asio;
using asio::ip::tcp;
using boost::system::error_code;

class HubServer::Inside final : public HubHost {
 public:
  Inside(const HubFolder& folder, const HubServerOptions& options, HubJournal& journal)
      : folder_(folder),
        options_(options),
        journal_(journal),
        reserve_(
            folder.reserve(), options.reserve_bytes < 0 ? kReserveBytes : options.reserve_bytes,
            options.free_bytes ? options.free_bytes
                               : [path = folder.path()] { return free_bytes_in(path); }),
        shops_(folder, journal),
        io_(1),
        acceptor_(io_),
        pages_wanted_(io_),
        growth_(io_) {
    if (!options_.now) options_.now = moment_now;
    place_.guesses = &guesses_;
    place_.find_shop = [this](const std::string& shop) { return shops_.find(shop); };
    place_.find_code = [this](const std::string& hash) { return shops_.with_code(hash); };
    journal_.count_dropped(&counts_.journal_dropped);
  }
  ~Inside() override {
    journal_.count_dropped(nullptr);
    if (writer_) writer_->finish();
  }

  OrError<void> open();
  void run();
  void begin_stop();
  void post_stop() {
    asio::post(io_, [this] { begin_stop(); });
  }
  std::uint16_t port() const { return port_; }
  const std::string& fingerprint() const { return certificate_.fingerprint(); }

  Moment now() const override { return options_.now(); }
  void store(const std::shared_ptr<HubConnection>& from, Offer offer) override;
  void wants_pages(const std::shared_ptr<HubConnection>& connection) override;
  void went_live(const std::shared_ptr<HubConnection>& connection,
                 const std::string& before) override;
  void ended(HubConnection& connection) override;
  bool backlog_full() const override { return counts_.backlog_bytes > kMostBacklogBytes; }
  HubCounts& counts() override { return counts_; }

 private:
  using Connections = std::map<HubConnection*, std::weak_ptr<HubConnection>>;

  OrError<void> listen();
  std::vector<std::shared_ptr<HubConnection>> connections_of(const HubLog* log) const;

  asio::awaitable<void> accept_all();
  asio::awaitable<void> serve(tcp::socket socket, bool busy);
  asio::awaitable<void> answer(TlsStream& stream, const HubRequest& request, bool from_here);
  asio::awaitable<void> pass_on_pages();
  void grew(const HubLog* log);
  asio::awaitable<void> look_for_membership();
  asio::awaitable<void> tick_all();
  asio::awaitable<void> tell_that_it_lives();
  asio::awaitable<void> drain();
  asio::awaitable<void> wait(std::int64_t ms);
  void give_back_memory();

  const HubFolder& folder_;
  HubServerOptions options_;
  HubJournal& journal_;
  HubCounts counts_;
  DiskReserve reserve_;
  HubCertificate certificate_;
  HubShops shops_;
  std::optional<HubPage> page_;
  std::set<const HubLog*> grown_;  // since their connections were last told
  std::int64_t seen_connections_ = 0, trimmed_at_connections_ = 0;
  ServiceManager service_;
  GuessLimit guesses_;
  HubPlace place_;
  std::uint16_t port_ = 0;
  bool stopping_ = false;
  std::unique_ptr<HubWriter> writer_;
  Connections connections_;
  std::map<std::pair<const HubLog*, std::string>, std::weak_ptr<HubConnection>> live_;
  Connections page_turns_;
  // Last, so that connections still under way go before what they refer to.
  asio::io_context io_;
  tcp::acceptor acceptor_;
  asio::steady_timer pages_wanted_;
  asio::steady_timer growth_;
};

}  // namespace chipfall
