#include "sync/link.h"

#include <fmt/format.h>
#include <openssl/err.h>
#include <openssl/sslerr.h>

#include <boost/asio/co_spawn.hpp>
#include <boost/asio/connect.hpp>
#include <boost/asio/detached.hpp>
#include <boost/asio/io_context.hpp>
#include <boost/asio/redirect_error.hpp>
#include <boost/asio/ssl/error.hpp>
#include <boost/asio/steady_timer.hpp>
#include <boost/asio/use_awaitable.hpp>
#include <boost/beast/core/flat_buffer.hpp>
#include <boost/beast/websocket/stream.hpp>
#include <deque>

#include "sync/hub_path.h"
#include "sync/installation.h"
#include "sync/tls.h"

namespace chipfall {

namespace asio = boost::asio;
namespace websocket = boost::beast::websocket;
using asio::ip::tcp;
using boost::system::error_code;

namespace {

constexpr std::size_t kWriteBytes = 32 * 1024;  // masked and sent at a time

/// A machine in this process, without a door before it.
class MachineTalk : public LinkTalk {
 public:
  MachineTalk(DeviceMachine& machine, const LinkOptions& options)
      : machine_(machine), options_(options) {
    if (!options_.now) options_.now = moment_now;
  }
  OrError<Step> connected(const std::string& channel_binding) override {
    return told(machine_.connected(channel_binding, options_.now()));
  }
  OrError<Step> receive(std::string_view message) override {
    return told(machine_.receive(message, options_.now()));
  }
  OrError<Step> passed() override {
    auto ticked = told(machine_.tick(options_.now()));
    if (!ticked || ticked->close) return ticked;
    auto looked = told(machine_.look(options_.now()));
    if (!looked) return looked;
    looked->send.insert(looked->send.begin(), ticked->send.begin(), ticked->send.end());
    return looked;
  }
  OrError<Step> disconnected(bool wrong_key, const std::string& why) override {
    if (wrong_key) machine_.put_code_away();
    DeviceActions actions = machine_.disconnected(options_.now());
    if (why.empty()) return Step{};
    return told(std::move(actions));
  }

 private:
  OrError<Step> told(DeviceActions actions) {
    if (machine_.failure()) return tl::unexpected(*machine_.failure());
    if (actions.ledger_grew && options_.ledger_grew) options_.ledger_grew();
    const auto progress = machine_.progress();
    if (!progress) return tl::unexpected(progress.error());
    if (options_.changed) options_.changed(*progress);
    Step step{std::move(actions.send),
              actions.close,
              progress->link == SyncProgress::Link::kUpToDate,
              {}};
    if (actions.connect_at_steady_ms) {
      step.connect_in_ms = *actions.connect_at_steady_ms - options_.now().steady_ms;
    }
    return step;
  }

  DeviceMachine& machine_;
  LinkOptions options_;
};

}  // namespace

class Link::Inside {
 public:
  Inside(LinkTalk& talk, HubAddress address, LinkOptions options)
      : talk_(talk),
        address_(std::move(address)),
        options_(std::move(options)),
        io_(1),
        pause_(io_) {
    if (!options_.now) options_.now = moment_now;
  }

  OrError<LinkEnd> run();
  void post_stop() {
    asio::post(io_, [this] { end(LinkEnd::kStopped); });
  }
  void post_look() {
    asio::post(io_, [this] {
      pause_.cancel();
      if (connection_ && !connection_->closing) perform(talk_.passed());
    });
  }
  std::string last_failure;

 private:
  /// One connection; what refers to it holds it.
  struct Connection {
    explicit Connection(TlsStream stream)
        : socket(std::move(stream)), wake(socket.get_executor()) {}
    websocket::stream<TlsStream, false> socket;
    std::deque<std::string> outgoing;
    asio::steady_timer wake;
    bool closing = false, gone = false;

    void cut() {
      if (std::exchange(gone, true)) return;
      beast_close_socket(socket.next_layer());
      wake.cancel();
    }
  };
  using Here = std::shared_ptr<Connection>;

  asio::awaitable<void> live();
  /// Whether whoever answered had another key.
  asio::awaitable<bool> connect_once();
  asio::awaitable<Here> connected(error_code& failure);
  asio::awaitable<void> write_frames(Here here);
  asio::awaitable<void> tick();
  void perform(OrError<LinkTalk::Step> step);
  void fail(const Error& error);
  void end(LinkEnd how);

  LinkTalk& talk_;
  HubAddress address_;
  LinkOptions options_;
  tls::Context context_;
  std::optional<LinkEnd> end_;
  std::optional<Error> failure_;
  std::int64_t began_steady_ms_ = 0;
  Here connection_;
  asio::io_context io_;
  asio::steady_timer pause_;
};

OrError<LinkEnd> Link::Inside::run() {
  auto context = tls::device_context(address_.fingerprint);
  if (!context) return tl::unexpected(context.error());
  context_ = std::move(*context);
  began_steady_ms_ = options_.now().steady_ms;
  asio::co_spawn(io_, live(), asio::detached);
  asio::co_spawn(io_, tick(), asio::detached);
  io_.run();
  if (connection_) {
    connection_->cut();
    connection_.reset();
    const auto over = talk_.disconnected(false, "");
    if (!over && !failure_) failure_ = over.error();
  }
  if (failure_) return tl::unexpected(*failure_);
  return end_.value_or(LinkEnd::kStopped);
}

void Link::Inside::end(LinkEnd how) {
  if (!end_) end_ = how;
  io_.stop();
}

void Link::Inside::fail(const Error& error) {
  failure_ = error;
  io_.stop();
}

void Link::Inside::perform(OrError<LinkTalk::Step> step) {
  if (!step) return fail(step.error());
  if (const Here here = connection_) {
    for (std::string& frame : step->send) here->outgoing.push_back(std::move(frame));
    if (step->close) here->closing = true;
    here->wake.cancel();
  }
  if (options_.once && step->up_to_date) end(LinkEnd::kUpToDate);
}

asio::awaitable<void> Link::Inside::live() {
  while (!end_ && !failure_) {
    const bool wrong_key = co_await connect_once();
    const auto next = talk_.disconnected(wrong_key, last_failure);
    if (!next) {
      fail(next.error());
      co_return;
    }
    if (end_ || failure_) co_return;
    if (wrong_key || !next->connect_in_ms || options_.once) {
      end(wrong_key             ? LinkEnd::kWrongKey
          : next->connect_in_ms ? LinkEnd::kOffline
                                : LinkEnd::kRefused);
      co_return;
    }
    error_code woken;
    pause_.expires_after(
        std::chrono::milliseconds(std::max<std::int64_t>(0, *next->connect_in_ms)));
    co_await pause_.async_wait(asio::redirect_error(asio::use_awaitable, woken));
  }
}

asio::awaitable<Link::Inside::Here> Link::Inside::connected(error_code& failure) {
  const auto token = [&] { return asio::redirect_error(asio::use_awaitable, failure); };
  tcp::socket socket(io_);
  tcp::resolver resolver(io_);
  // One limit for all of it: a network that swallows packets would hold each step up for minutes.
  asio::steady_timer limit(io_, std::chrono::milliseconds(kMostConnecting_ms));
  auto doomed = std::make_shared<std::function<void()>>([&] {
    error_code ignored;
    resolver.cancel();
    socket.close(ignored);
  });
  limit.async_wait([doomed](error_code cancelled) {
    if (!cancelled && *doomed) (*doomed)();
  });
  const auto found =
      co_await resolver.async_resolve(address_.host, std::to_string(address_.port), token());
  if (!failure) co_await asio::async_connect(socket, found, token());
  Here here;
  if (!failure) {
    here = std::make_shared<Connection>(
        TlsStream(std::move(socket), context_.get(), TlsStream::Side::kDevice));
    *doomed = [weak = std::weak_ptr(here)] {
      if (const auto late = weak.lock()) late->cut();
    };
    co_await here->socket.next_layer().async_handshake(token());
  }
  if (!failure) {
    here->socket.set_option(
        websocket::stream_base::timeout::suggested(boost::beast::role_type::client));
    here->socket.read_message_max(kMostFrameBytes);
    here->socket.auto_fragment(false);
    here->socket.write_buffer_bytes(kWriteBytes);
    here->socket.binary(true);
    const std::string host = fmt::format("{}:{}", address_.host, address_.port);
    co_await here->socket.async_handshake(host, kSyncPath, token());
  }
  *doomed = nullptr;
  limit.cancel();
  co_return here;
}

asio::awaitable<bool> Link::Inside::connect_once() {
  error_code failure;
  const Here here = co_await connected(failure);
  if (failure) {
    const bool wrong_key = failure.category() == asio::error::get_ssl_category() &&
                           ERR_GET_REASON(static_cast<unsigned long>(failure.value())) ==
                               SSL_R_CERTIFICATE_VERIFY_FAILED;
    last_failure = wrong_key ? "whoever answers there has another key than the hub that this "
                               "device joined: ask the coordinator before anything else"
                             : fmt::format("the hub at {} port {} cannot be reached: {}",
                                           address_.host, address_.port, failure.message());
    if (here) here->cut();
    co_return wrong_key;
  }
  connection_ = here;
  asio::co_spawn(io_, write_frames(here), asio::detached);
  perform(talk_.connected(here->socket.next_layer().channel_binding()));
  boost::beast::flat_buffer read;
  while (!here->gone) {
    co_await here->socket.async_read(read, asio::redirect_error(asio::use_awaitable, failure));
    if (failure) break;
    if (here->closing) {
      read.consume(read.size());
      continue;
    }
    const auto data = read.cdata();
    auto step = talk_.receive({static_cast<const char*>(data.data()), data.size()});
    read.consume(read.size());
    perform(std::move(step));
  }
  last_failure = fmt::format("the connection ended: {}", failure.message());
  here->cut();
  connection_.reset();
  co_return false;
}

asio::awaitable<void> Link::Inside::write_frames(Here here) {
  error_code failure;
  while (!here->gone) {
    if (!here->outgoing.empty()) {
      co_await here->socket.async_write(asio::buffer(here->outgoing.front()),
                                        asio::redirect_error(asio::use_awaitable, failure));
      if (failure) break;
      here->outgoing.pop_front();
    } else if (here->closing) {
      co_await here->socket.async_close(websocket::close_code::normal,
                                        asio::redirect_error(asio::use_awaitable, failure));
      break;
    } else {
      here->wake.expires_at(asio::steady_timer::time_point::max());
      co_await here->wake.async_wait(asio::redirect_error(asio::use_awaitable, failure));
    }
  }
  here->cut();
}

asio::awaitable<void> Link::Inside::tick() {
  while (true) {
    asio::steady_timer timer(io_, std::chrono::milliseconds(kLook_ms));
    co_await timer.async_wait(asio::use_awaitable);
    const Moment now = options_.now();
    if (connection_ && !connection_->closing) perform(talk_.passed());
    if (options_.once && now.steady_ms - began_steady_ms_ > options_.most_ms) {
      end(LinkEnd::kOffline);
    }
  }
}

Link::Link(LinkTalk& talk, HubAddress address, LinkOptions options)
    : inside_(std::make_unique<Inside>(talk, std::move(address), std::move(options))) {}
Link::Link(DeviceMachine& machine, HubAddress address, LinkOptions options)
    : own_talk_(std::make_unique<MachineTalk>(machine, options)),
      inside_(std::make_unique<Inside>(*own_talk_, std::move(address), std::move(options))) {}
Link::~Link() = default;
OrError<LinkEnd> Link::run() { return inside_->run(); }
void Link::stop() { inside_->post_stop(); }
void Link::look() { inside_->post_look(); }
const std::string& Link::last_failure() const { return inside_->last_failure; }

}  // namespace chipfall
