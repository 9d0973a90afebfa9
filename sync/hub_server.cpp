#include "sync/hub_server.h"

#include <fmt/format.h>

#include <algorithm>
#include <boost/asio/co_spawn.hpp>
#include <boost/asio/detached.hpp>
#include <boost/asio/io_context.hpp>
#include <boost/asio/redirect_error.hpp>
#include <boost/asio/signal_set.hpp>
#include <boost/asio/use_awaitable.hpp>
#include <boost/beast/http/parser.hpp>
#include <boost/beast/http/read.hpp>
#include <boost/beast/http/string_body.hpp>
#include <boost/beast/http/write.hpp>
#include <boost/beast/websocket/rfc6455.hpp>
#include <map>
#include <set>

#include "sync/hub_connection.h"
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

using Request = HubConnection::Request;
using Response = http::response<http::string_body>;

constexpr int kPassesOnAtOnce = 8;  // connections, before others have their turn

tl::unexpected<Error> server_error(ErrorCode code, std::string message) {
  return tl::unexpected(Error{code, std::move(message), {}});
}

std::string_view view_of(beast::string_view text) { return {text.data(), text.size()}; }

/// Closes a stream that has not come far enough in time.
class Deadline {
 public:
  Deadline(TlsStream& stream, std::int64_t ms)
      : timer_(stream.get_executor(), std::chrono::milliseconds(ms)),
        stream_(std::make_shared<TlsStream*>(&stream)) {
    timer_.async_wait([stream = stream_](error_code cancelled) {
      if (!cancelled && *stream != nullptr) beast_close_socket(**stream);
    });
  }
  Deadline(const Deadline&) = delete;
  Deadline& operator=(const Deadline&) = delete;
  ~Deadline() { met(); }
  void met() {
    *stream_ = nullptr;
    timer_.cancel();
  }

 private:
  asio::steady_timer timer_;
  std::shared_ptr<TlsStream*> stream_;
};

/// Counts something up for as long as it lives.
class Counted {
 public:
  explicit Counted(Count& count) : count_(count) { ++count_; }
  Counted(const Counted&) = delete;
  Counted& operator=(const Counted&) = delete;
  ~Counted() { --count_; }

 private:
  Count& count_;
};

/// Where a connection comes from, for counting wrong guesses: an address, or in IPv6 the network
/// of it, since every household has as many addresses as it likes.
std::string source_of(const asio::ip::address& address) {
  if (address.is_v4()) return address.to_string();
  const auto bytes = address.to_v6().to_bytes();
  if (address.to_v6().is_v4_mapped()) return address.to_string();
  return std::string(bytes.begin(), bytes.begin() + 8);
}

/// A browser says which page connects. A page of the hub itself may, others must be named.
bool may_come_from(const Request& request, const std::vector<std::string>& allowed) {
  const auto origin = request.find(http::field::origin);
  if (origin == request.end()) return true;  // no browser
  const std::string from(view_of(origin->value()));
  if (from == fmt::format("https://{}", view_of(request[http::field::host]))) return true;
  return std::find(allowed.begin(), allowed.end(), from) != allowed.end();
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
        io_(1),
        acceptor_(io_),
        pages_wanted_(io_),
        growth_(io_) {
    if (!options_.now) options_.now = moment_now;
    place_.guesses = &guesses_;
    place_.find_shop = [this](const std::string& shop) { return find_shop(shop); };
    place_.find_code = [this](const std::string& hash) { return find_code(hash); };
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
  const std::string& fingerprint() const { return fingerprint_; }

  Moment now() const override { return options_.now(); }
  void store(const std::shared_ptr<HubConnection>& from, Offer offer) override;
  void wants_pages(const std::shared_ptr<HubConnection>& connection) override;
  void went_live(const std::shared_ptr<HubConnection>& connection) override;
  void ended(HubConnection& connection) override;
  bool backlog_full() const override { return counts_.backlog_bytes > kMostBacklogBytes; }
  HubCounts& counts() override { return counts_; }

 private:
  struct Shop {
    std::unique_ptr<SqliteHubLog> log;
    std::int64_t membership = 0;
    bool grew = false;  // since its connections were last told
  };
  using Connections = std::map<HubConnection*, std::weak_ptr<HubConnection>>;

  OrError<void> open_shops();
  OrError<void> open_shop(const std::string& id);
  OrError<void> listen();
  HubLog* find_shop(const std::string& shop);
  HubLog* find_code(const std::string& hash);
  std::vector<std::shared_ptr<HubConnection>> connections_of(const HubLog* log) const;

  asio::awaitable<void> accept_all();
  asio::awaitable<void> serve(tcp::socket socket, bool busy);
  asio::awaitable<void> answer(TlsStream& stream, const Request& request, bool from_here);
  Response response_to(const Request& request, bool from_here);
  asio::awaitable<void> pass_on_pages();
  void grew(Shop& shop);
  asio::awaitable<void> look_for_membership();
  asio::awaitable<void> tick_all();
  asio::awaitable<void> drain();
  asio::awaitable<void> wait(std::int64_t ms);
  void look_for_new_shops();
  void refresh_counts();

  const HubFolder& folder_;
  HubServerOptions options_;
  HubJournal& journal_;
  HubCounts counts_;
  DiskReserve reserve_;
  tls::Context context_;
  std::string fingerprint_;
  std::map<std::string, Shop> shops_;
  std::set<std::string> broken_shops_;
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
  if (settings.certificate.empty() != settings.key.empty()) {
    return server_error(ErrorCode::kMistake,
                        "certificate and key go together: give both, or neither");
  }
  std::string certificate = settings.certificate, key = settings.key;
  if (certificate.empty()) {
    const auto made = folder_.ensure_keys();
    if (!made) return made;
    certificate = folder_.certificate();
    key = folder_.key();
  }
  auto context = tls::hub_context(certificate, key);
  if (!context) return tl::unexpected(context.error());
  context_ = std::move(*context);
  const auto fingerprint = tls::fingerprint_of_file(certificate);
  if (!fingerprint) return tl::unexpected(fingerprint.error());
  fingerprint_ = *fingerprint;
  const auto shops = open_shops();
  if (!shops) return shops;
  writer_ = std::make_unique<HubWriter>(counts_, journal_, reserve_,
                                        [this] { return options_.now().utc_ms; });
  for (auto& [id, shop] : shops_) writer_->look_after(shop.log.get());
  counts_.started_utc_ms = now().utc_ms;
  return listen();
}

OrError<void> HubServer::Inside::open_shops() {
  const auto ids = folder_.shop_ids();
  if (!ids) return tl::unexpected(ids.error());
  for (const std::string& id : *ids) {
    const auto opened = open_shop(id);
    if (!opened) return opened;
  }
  if (!ids->empty()) return {};
  auto made = folder_.add_shop(options_.settings.shop_name, {});
  if (!made) return tl::unexpected(made.error());
  return open_shop((*made)->shop());
}

OrError<void> HubServer::Inside::open_shop(const std::string& id) {
  HubStoreOptions options;
  options.quick_check = options_.settings.quick_check;
  auto log = folder_.open_shop(id, options);
  if (!log) return tl::unexpected(log.error());
  const auto epochs = (*log)->epochs();
  if (!epochs) return tl::unexpected(epochs.error());
  const auto membership = (*log)->membership();
  if (!membership) return tl::unexpected(membership.error());
  journal_.info("shop_opened", {{"shop", id},
                                {"epoch", hex_of(epochs->back().id)},
                                {"entries", std::to_string((*log)->last_position().value_or(0))}});
  if (writer_) writer_->look_after(log->get());
  shops_[id] = {std::move(*log), *membership, false};
  return {};
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

HubLog* HubServer::Inside::find_shop(const std::string& shop) {
  const auto found = shops_.find(shop);
  return found == shops_.end() ? nullptr : found->second.log.get();
}

HubLog* HubServer::Inside::find_code(const std::string& hash) {
  for (const auto& [id, shop] : shops_) {
    const auto code = shop.log->join_code(hash);
    if (code && *code) return shop.log.get();
  }
  return nullptr;
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
                            {"key", hex_of(fingerprint_)},
                            {"shops", std::to_string(shops_.size())}});
  spawn(accept_all());
  spawn(pass_on_pages());
  spawn(look_for_membership());
  spawn(tick_all());
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
  TlsStream stream(std::move(socket), context_.get(), TlsStream::Side::kHub);
  Request request;
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
    const bool wants_sync =
        beast::websocket::is_upgrade(request) && view_of(request.target()) == kSyncPath;
    if (!wants_sync || !may_come || stopping_) {
      co_await answer(stream, request, peer.address().is_loopback());
      co_return;
    }
  }
  // A page in a browser cannot see the TLS connection that its bytes travel on.
  const bool from_browser = request.find(http::field::origin) != request.end();
  const std::string binding = from_browser ? std::string() : stream.channel_binding();
  auto connection = std::make_shared<HubConnection>(std::move(stream), *this, place_,
                                                    source_of(peer.address()), binding);
  connections_[connection.get()] = connection;
  co_await connection->run(std::move(request), busy);
}

asio::awaitable<void> HubServer::Inside::answer(TlsStream& stream, const Request& request,
                                                bool from_here) {
  error_code ignored;
  Response response = response_to(request, from_here);
  co_await http::async_write(stream, response, asio::redirect_error(asio::use_awaitable, ignored));
  co_await stream.async_shutdown(asio::redirect_error(asio::use_awaitable, ignored));
}

Response HubServer::Inside::response_to(const Request& request, bool from_here) {
  const auto answer = [&](http::status status, std::string body, const char* type = "text/plain") {
    Response response(status, request.version());
    response.set(http::field::server, "chipfall-hub");
    response.set(http::field::content_type, type);
    response.set(http::field::cache_control, "no-store");
    response.keep_alive(false);
    const std::size_t bytes = body.size();
    if (request.method() != http::verb::head) response.body() = std::move(body);
    response.content_length(bytes);
    return response;
  };
  const std::string target(view_of(request.target()));
  if (target == kSyncPath) {
    if (stopping_) return answer(http::status::service_unavailable, "stopping\n");
    if (may_come_from(request, options_.settings.origins)) {
      return answer(http::status::upgrade_required, "phones connect here with WebSocket\n");
    }
    ++counts_.turned_away_origin;
    return answer(http::status::forbidden, "this page may not connect; see the setting origins\n");
  }
  if (request.method() != http::verb::get && request.method() != http::verb::head) {
    return answer(http::status::method_not_allowed, "only GET\n");
  }
  if (target == "/healthz") {
    if (stopping_) return answer(http::status::service_unavailable, "stopping\n");
    if (counts_.disk_full != 0) {
      return answer(http::status::service_unavailable, "the disk is full\n");
    }
    return answer(http::status::ok, "ok\n");
  }
  if (target == "/metrics") {
    if (!from_here && !options_.settings.metrics_for_all) {
      return answer(http::status::forbidden, "only for this computer; see metrics-for-all\n");
    }
    refresh_counts();
    return answer(http::status::ok, metrics_text(counts_), "text/plain; version=0.0.4");
  }
  return answer(http::status::not_found, "here are /healthz, /metrics and /sync\n");
}

void HubServer::Inside::refresh_counts() {
  std::int64_t entries = 0, file = 0, wal = 0;
  for (const auto& [id, shop] : shops_) {
    entries += static_cast<std::int64_t>(shop.log->last_position().value_or(0));
    file += shop.log->file_bytes();
    wal += shop.log->wal_bytes();
  }
  counts_.shops = static_cast<std::int64_t>(shops_.size());
  counts_.log_entries = entries;
  counts_.file_bytes = file;
  counts_.wal_bytes = wal;
  counts_.free_bytes = reserve_.free_bytes();
}

void HubServer::Inside::store(const std::shared_ptr<HubConnection>& from, Offer offer) {
  auto* log = static_cast<SqliteHubLog*>(from->session().log());
  writer_->take({log, std::move(offer), [this, from](std::uint64_t ticket, auto verdicts) {
                   asio::post(io_, [this, from, ticket, verdicts = std::move(verdicts)] {
                     from->stored(ticket, verdicts);
                     const auto shop = shops_.find(from->session().log()->shop());
                     if (verdicts && shop != shops_.end()) grew(shop->second);
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
void HubServer::Inside::grew(Shop& shop) {
  if (std::exchange(shop.grew, true)) return;
  growth_.expires_after(std::chrono::milliseconds(kLiveUpdate_ms));
  growth_.async_wait([this](error_code cancelled) {
    if (cancelled) return;  // another shop grew meanwhile: its wait tells of both
    for (auto& [id, grown] : shops_) {
      if (!std::exchange(grown.grew, false)) continue;
      for (const auto& connection : connections_of(grown.log.get())) wants_pages(connection);
    }
  });
}

/// Another process may have revoked a device.
asio::awaitable<void> HubServer::Inside::look_for_membership() {
  while (true) {
    co_await wait(kMembershipLook_ms);
    for (auto& [id, shop] : shops_) {
      const auto membership = shop.log->membership();
      if (!membership || *membership == shop.membership) continue;
      shop.membership = *membership;
      for (const auto& connection : connections_of(shop.log.get())) {
        connection->membership_changed();
      }
    }
  }
}

asio::awaitable<void> HubServer::Inside::tick_all() {
  while (true) {
    co_await wait(options_.tick_ms);
    for (const auto& connection : connections_of(nullptr)) connection->tick();
    look_for_new_shops();
  }
}

void HubServer::Inside::look_for_new_shops() {
  const auto ids = folder_.shop_ids();
  if (!ids) return;
  for (const std::string& id : *ids) {
    if (shops_.contains(id) || broken_shops_.contains(id)) continue;
    const auto opened = open_shop(id);
    if (opened) continue;
    broken_shops_.insert(id);
    journal_.warning("shop_not_opened", {{"shop", id}, {"why", opened.error().text()}});
  }
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
