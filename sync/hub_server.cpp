#include "sync/hub_server.h"

#include <fmt/format.h>
#ifdef __GLIBC__
#include <malloc.h>
#endif

#include <boost/asio/co_spawn.hpp>
#include <boost/asio/detached.hpp>
#include <boost/asio/io_context.hpp>
#include <boost/asio/redirect_error.hpp>
#include <boost/asio/signal_set.hpp>
#include <boost/asio/use_awaitable.hpp>
#include <boost/beast/http/parser.hpp>
#include <boost/beast/http/read.hpp>
#include <boost/beast/http/write.hpp>
#include <map>
#include <set>

#include "sync/hub_certificate.h"
#include "sync/hub_connection.h"
#include "sync/hub_http.h"
#include "sync/hub_page.h"
#include "sync/hub_service.h"
#include "sync/hub_shops.h"
#include "sync/hub_socket.h"
#include "sync/hub_writer.h"
#include "sync/installation.h"
#include "sync/version.h"

namespace chipfall {

namespace asio = boost::asio;
namespace beast = boost::beast;
namespace http = boost::beast::http;
using asio::ip::tcp;
using boost::system::error_code;

namespace {

constexpr std::int64_t kManyConnections = 100;  // 1 MB of holes
constexpr int kPassesOnAtOnce = 8;              // connections, before others have their turn

tl::unexpected<Error> server_error(ErrorCode code, std::string message) {
  return tl::unexpected(Error{code, std::move(message), {}});
}

}  // namespace

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
  void went_live(const std::shared_ptr<HubConnection>& connection) override;
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

OrError<void> HubServer::Inside::open() {
  const HubSettings& settings = options_.settings;
  OrError<HubCertificate> certificate =
      HubCertificate::open(folder_, settings, now().utc_ms / 1000, journal_);
  if (!certificate) return tl::unexpected(certificate.error());
  certificate_ = *std::move(certificate);
  if (!settings.page.empty()) {
    OrError<HubPage> page = HubPage::read(settings.page);
    if (!page) return tl::unexpected(page.error());
    page_ = *std::move(page);
  }
  const auto shops = shops_.open(settings.shop_name, settings.quick_check);
  if (!shops) return shops;
  writer_ = std::make_unique<HubWriter>(counts_, journal_, reserve_,
                                        [this] { return options_.now().utc_ms; });
  for (SqliteHubLog* log : shops_.logs()) writer_->look_after(log);
  counts_.started_utc_ms = now().utc_ms;
  return listen();
}

OrError<void> HubServer::Inside::listen() {
  const HubSettings& settings = options_.settings;
  error_code failure;
  const auto address = asio::ip::make_address(settings.bind, failure);
  if (!failure) {
    const tcp::endpoint endpoint(address, settings.port);
    acceptor_.open(endpoint.protocol(), failure);
    if (!failure) acceptor_.set_option(tcp::acceptor::reuse_address(true), failure);
    if (!failure) acceptor_.bind(endpoint, failure);
    if (!failure) acceptor_.listen(asio::socket_base::max_listen_connections, failure);
    if (!failure) port_ = acceptor_.local_endpoint(failure).port();
  }
  if (!failure) return {};
  return server_error(ErrorCode::kUnreadable,
                      fmt::format("{} port {} cannot be listened on: {}; choose others with "
                                  "--bind and --port, or stop the program that uses them",
                                  settings.bind, settings.port, failure.message()));
}

void HubServer::Inside::run() {
  const auto spawn = [this](asio::awaitable<void> work) {
    asio::co_spawn(io_, std::move(work), asio::detached);
  };
  asio::signal_set signals(io_);
  if (options_.stop_on_signals) {
    signals.add(SIGTERM);
    signals.add(SIGINT);
    signals.async_wait([this](error_code cancelled, int) {
      if (!cancelled) begin_stop();
    });
  }
  journal_.info("started", {{"version", kChipfallVersion},
                            {"port", std::to_string(port_)},
                            {"key", hex_of(certificate_.fingerprint())},
                            {"shops", std::to_string(shops_.count())}});
  spawn(accept_all());
  spawn(pass_on_pages());
  spawn(look_for_membership());
  spawn(tick_all());
  if (service_.watchdog_ms() > 0) spawn(tell_that_it_lives());
  service_.tell("READY=1");
  io_.run();
  writer_->finish();
  journal_.info("stopped", {{"entries", std::to_string(counts_.entries_new.load())}});
}

asio::awaitable<void> HubServer::Inside::wait(std::int64_t ms) {
  asio::steady_timer timer(io_, std::chrono::milliseconds(ms));
  co_await timer.async_wait(asio::use_awaitable);
}

asio::awaitable<void> HubServer::Inside::accept_all() {
  while (!stopping_) {
    error_code failure;
    tcp::socket socket(io_);
    co_await acceptor_.async_accept(socket, asio::redirect_error(asio::use_awaitable, failure));
    if (stopping_) co_return;
    if (failure) {
      journal_.warning("accept_failed", {{"why", failure.message()}});
      co_await wait(100);  // out of descriptors, most likely: some will come free
      continue;
    }
    ++counts_.connections_total;
    const std::int64_t over = counts_.connections - options_.settings.connections;
    if (over >= 0) ++counts_.turned_away_full;
    if (over >= kToldBusy) continue;  // closes it
    asio::co_spawn(io_, serve(std::move(socket), over >= 0), asio::detached);
  }
}

asio::awaitable<void> HubServer::Inside::serve(tcp::socket socket, bool busy) {
  const Counted counted(counts_.connections);
  error_code failure;
  const tcp::endpoint peer = socket.remote_endpoint(failure);
  if (failure) co_return;
  socket.set_option(asio::socket_base::send_buffer_size(kSocketSendBytes), failure);
  TlsStream stream(std::move(socket), certificate_.context(), TlsStream::Side::kHub);
  HubRequest request;
  {
    Deadline deadline(stream, options_.opening_ms);
    co_await stream.async_handshake(asio::redirect_error(asio::use_awaitable, failure));
    if (failure) {
      ++counts_.failed_handshakes;
      co_return;
    }
    beast::flat_buffer buffer(kMostHeaderBytes);
    http::request_parser<http::empty_body> parser;
    parser.header_limit(kMostHeaderBytes);
    co_await http::async_read(stream, buffer, parser,
                              asio::redirect_error(asio::use_awaitable, failure));
    if (failure) {
      ++counts_.failed_handshakes;
      co_return;
    }
    request = parser.release();
    const bool may_come = may_come_from(request, options_.settings.origins);
    if (!wants_sync(request) || !may_come || stopping_) {
      co_await answer(stream, request, peer.address().is_loopback());
      co_return;
    }
  }
  // A page in a browser cannot see the TLS connection that its bytes travel on.
  const std::string binding = from_browser(request) ? std::string() : stream.channel_binding();
  auto connection = std::make_shared<HubConnection>(std::move(stream), *this, place_,
                                                    source_of(peer.address()), binding);
  connections_[connection.get()] = connection;
  co_await connection->run(std::move(request), busy);
}

asio::awaitable<void> HubServer::Inside::answer(TlsStream& stream, const HubRequest& request,
                                                bool from_here) {
  error_code ignored;
  shops_.measure(counts_);
  counts_.free_bytes = reserve_.free_bytes();
  const HubFront front{options_.settings.origins, stopping_,
                       from_here || options_.settings.metrics_for_all, page_ ? &*page_ : nullptr,
                       certificate_.authority()};
  HubResponse response = hub_response(request, front, counts_);
  co_await http::async_write(stream, response, asio::redirect_error(asio::use_awaitable, ignored));
  co_await stream.async_shutdown(asio::redirect_error(asio::use_awaitable, ignored));
}

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

void HubServer::Inside::went_live(const std::shared_ptr<HubConnection>& connection) {
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

void HubServer::Inside::begin_stop() {
  if (std::exchange(stopping_, true)) return;
  service_.tell("STOPPING=1");
  journal_.info("stopping", {{"connections", std::to_string(connections_.size())}});
  error_code ignored;
  acceptor_.close(ignored);
  for (const auto& connection : connections_of(nullptr)) connection->stop_soon();
  asio::co_spawn(io_, drain(), asio::detached);
}

asio::awaitable<void> HubServer::Inside::drain() {
  constexpr std::int64_t kLook_ms = 20;
  for (std::int64_t waited = 0; !connections_.empty() && waited < kMostDrain_ms;
       waited += kLook_ms) {
    co_await wait(kLook_ms);
  }
  for (const auto& connection : connections_of(nullptr)) connection->cut();
  co_await wait(kLook_ms);
  io_.stop();
}

HubServer::HubServer(std::unique_ptr<Inside> inside) : inside_(std::move(inside)) {}
HubServer::~HubServer() = default;

OrError<std::unique_ptr<HubServer>> HubServer::open(const HubFolder& folder,
                                                    const HubServerOptions& options,
                                                    HubJournal& journal) {
  auto inside = std::make_unique<Inside>(folder, options, journal);
  const auto opened = inside->open();
  if (!opened) return tl::unexpected(opened.error());
  return std::unique_ptr<HubServer>(new HubServer(std::move(inside)));
}

std::uint16_t HubServer::port() const { return inside_->port(); }
const std::string& HubServer::fingerprint() const { return inside_->fingerprint(); }
const HubCounts& HubServer::counts() const { return inside_->counts(); }
void HubServer::run() { inside_->run(); }
void HubServer::stop() { inside_->post_stop(); }

}  // namespace chipfall
