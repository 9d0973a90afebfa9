#include "sync/hub_connection.h"

#include <boost/asio/co_spawn.hpp>
#include <boost/asio/detached.hpp>
#include <boost/asio/redirect_error.hpp>
#include <boost/asio/use_awaitable.hpp>
#include <boost/beast/http/field.hpp>
#include <chrono>

#include "sync/hub_server.h"
#include "sync/installation.h"
#include "sync/secret.h"

namespace chipfall {

namespace asio = boost::asio;
namespace websocket = boost::beast::websocket;
using boost::system::error_code;

namespace {

constexpr auto kPause = std::chrono::milliseconds(10);
constexpr std::size_t kKeptReadBytes = 4 * 1024;  // beyond that an idle connection gives back

}  // namespace

HubConnection::HubConnection(TlsStream stream, HubHost& host, HubPlace& place,
                             const std::string& source, const std::string& channel_binding)
    : socket_(std::move(stream)),
      host_(host),
      session_(place, source, channel_binding, fresh_bytes(kNonceBytes), host.now()),
      wake_(socket_.get_executor()),
      pause_(socket_.get_executor()) {}

asio::awaitable<void> HubConnection::run(HubRequest upgrade, bool busy) {
  const auto self = shared_from_this();
  auto timeouts = websocket::stream_base::timeout::suggested(boost::beast::role_type::server);
  timeouts.handshake_timeout = std::chrono::milliseconds(kMostOpening_ms);  // goodbyes as well
  socket_.set_option(timeouts);
  socket_.set_option(websocket::stream_base::decorator([](websocket::response_type& response) {
    response.set(boost::beast::http::field::server, "chipfall-hub");
  }));
  socket_.read_message_max(kMostFrameBytes);
  socket_.auto_fragment(false);
  socket_.binary(true);
  error_code failure;
  co_await socket_.async_accept(upgrade, asio::redirect_error(asio::use_awaitable, failure));
  if (!failure) {
    asio::co_spawn(
        socket_.get_executor(), [self]() { return self->write_frames(); }, asio::detached);
    if (busy) perform(session_.busy(host_.now()));
    co_await read_frames();
  }
  if (!closing_ || failure) cut();
  while (!cut_) {  // what waits to be written still goes out when the hub itself closes
    error_code ignored;
    pause_.expires_at(asio::steady_timer::time_point::max());
    co_await pause_.async_wait(asio::redirect_error(asio::use_awaitable, ignored));
  }
  if (live_) --host_.counts().live;
  host_.ended(*this);
}

asio::awaitable<void> HubConnection::wait_until_it_may_read() {
  while (!cut_ && !closing_ && (outgoing_bytes_ > kPauseReadingAt_bytes || host_.backlog_full())) {
    error_code ignored;
    pause_.expires_after(kPause);
    co_await pause_.async_wait(asio::redirect_error(asio::use_awaitable, ignored));
  }
}

asio::awaitable<void> HubConnection::read_frames() {
  while (!cut_ && !closing_) {
    co_await wait_until_it_may_read();
    error_code failure;
    const std::size_t bytes =
        co_await socket_.async_read(read_, asio::redirect_error(asio::use_awaitable, failure));
    if (failure) co_return;
    host_.counts().received_bytes += static_cast<std::int64_t>(bytes);
    if (!closing_ && !stopping_) {
      if (socket_.got_binary()) {
        const auto data = read_.cdata();
        perform(
            session_.receive({static_cast<const char*>(data.data()), data.size()}, host_.now()));
      } else {
        closing_ = true;
        reason_ = {websocket::close_code::unknown_data, "binary frames only"};
        wake_.cancel();
      }
    }
    read_.consume(read_.size());
    if (read_.capacity() > kKeptReadBytes) read_.shrink_to_fit();
  }
}

asio::awaitable<void> HubConnection::write_frames() {
  const auto self = shared_from_this();
  error_code failure;
  while (!cut_) {
    if (!outgoing_.empty()) {
      writing_since_ms_ = host_.now().steady_ms;
      co_await socket_.async_write(asio::buffer(outgoing_.front()),
                                   asio::redirect_error(asio::use_awaitable, failure));
      writing_since_ms_ = 0;
      const auto bytes = static_cast<std::int64_t>(outgoing_.front().size());
      outgoing_.pop_front();
      outgoing_bytes_ -= static_cast<std::size_t>(bytes);
      host_.counts().queued_bytes -= bytes;
      if (failure) break;
      host_.counts().sent_bytes += bytes;
    } else if (closing_) {
      writing_since_ms_ = host_.now().steady_ms;
      co_await socket_.async_close(reason_, asio::redirect_error(asio::use_awaitable, failure));
      break;
    } else {
      wake_.expires_at(asio::steady_timer::time_point::max());
      co_await wake_.async_wait(asio::redirect_error(asio::use_awaitable, failure));
    }
  }
  cut();
}

void HubConnection::perform(HubActions actions) {
  for (std::string& frame : actions.send) {
    if (actions.close && &frame == &actions.send.back()) close_because(frame);
    enqueue(std::move(frame));
  }
  if (cut_) return;
  for (Offer& offer : actions.commit) host_.store(shared_from_this(), std::move(offer));
  if (session_.state() == HubSession::State::kLive && live_as_ != session_.device()) {
    if (!std::exchange(live_, true)) ++host_.counts().live;
    const std::string before = std::exchange(live_as_, session_.device());
    host_.went_live(shared_from_this(), before);
  }
  if (actions.more) host_.wants_pages(shared_from_this());
  if (actions.close) closing_ = true;
  wake_.cancel();
}

/// The refusal that closes the connection says why, also to those who only see the WebSocket.
void HubConnection::close_because(const std::string& frame) {
  reason_ = {websocket::close_code::normal};
  const auto read = decode_frame(frame);
  if (!read || !read->has_refusal()) return;
  const proto::RefusalKind kind = read->refusal().kind();
  host_.counts().refused(kind);
  reason_ = {kind == proto::REFUSAL_STOPPING ? websocket::close_code::going_away
             : kind == proto::REFUSAL_BUSY   ? websocket::close_code::try_again_later
                                             : websocket::close_code::policy_error,
             proto::RefusalKind_Name(kind)};
}

void HubConnection::enqueue(std::string frame) {
  if (cut_) return;
  if (outgoing_bytes_ + frame.size() > kMostQueuedBytes) {
    ++host_.counts().slow;
    cut();
    return;
  }
  outgoing_bytes_ += frame.size();
  host_.counts().queued_bytes += static_cast<std::int64_t>(frame.size());
  outgoing_.push_back(std::move(frame));
}

void HubConnection::stored(std::uint64_t ticket, const OrError<Verdicts>& verdicts) {
  if (cut_ || closing_) return;
  perform(session_.stored(ticket, verdicts, host_.now()));
  if (stopping_) stop_soon();
}

void HubConnection::log_grew() {
  if (live_ && !cut_ && !closing_) perform(session_.log_grew(host_.now()));
}

void HubConnection::membership_changed() {
  if (!cut_ && !closing_) perform(session_.membership_changed(host_.now()));
}

void HubConnection::replaced() {
  if (!cut_ && !closing_) perform(session_.replaced(host_.now()));
}

void HubConnection::tick() {
  if (cut_) return;
  if (writing_since_ms_ != 0 && host_.now().steady_ms - writing_since_ms_ > kMostWrite_ms) {
    ++host_.counts().slow;
    cut();
    return;
  }
  if (!closing_) perform(session_.tick(host_.now()));
}

void HubConnection::stop_soon() {
  stopping_ = true;
  if (cut_ || closing_ || session_.offered_bytes() > 0) return;
  perform(session_.stop(host_.now()));
}

void HubConnection::cut() {
  if (std::exchange(cut_, true)) return;
  // What is being written at this moment stays until its write has ended.
  while (outgoing_.size() > (writing_since_ms_ != 0 ? 1 : 0)) {
    outgoing_bytes_ -= outgoing_.back().size();
    host_.counts().queued_bytes -= static_cast<std::int64_t>(outgoing_.back().size());
    outgoing_.pop_back();
  }
  beast_close_socket(socket_.next_layer());
  wake_.cancel();
  pause_.cancel();
}

}  // namespace chipfall
