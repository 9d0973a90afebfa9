#include "sync/hub_server.h"

#include <fmt/format.h>

#include <boost/asio/co_spawn.hpp>
#include <boost/asio/detached.hpp>
#include <boost/asio/redirect_error.hpp>
#include <boost/asio/signal_set.hpp>
#include <boost/asio/use_awaitable.hpp>
#include <boost/beast/http/parser.hpp>
#include <boost/beast/http/read.hpp>
#include <boost/beast/http/write.hpp>

#include "sync/hub_inside.h"
#include "sync/version.h"

namespace chipfall {

namespace beast = boost::beast;
namespace http = boost::beast::http;

namespace {

tl::unexpected<Error> server_error(ErrorCode code, std::string message) {
  return tl::unexpected(Error{code, std::move(message), {}});
}

}  // namespace

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
