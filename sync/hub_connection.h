#pragma once

#include <boost/asio/awaitable.hpp>
#include <boost/asio/steady_timer.hpp>
#include <boost/beast/core/flat_buffer.hpp>
#include <boost/beast/websocket/stream.hpp>
#include <deque>
#include <memory>
#include <string>

#include "sync/hub_counts.h"
#include "sync/hub_http.h"
#include "sync/hub_session.h"
#include "sync/tls.h"

/// One device's WebSocket at the hub: frames from the socket to its HubSession, what the session
/// wants back to the socket. On the network's thread only.
namespace chipfall {

class HubConnection;

/// What a connection asks of the hub around it.
class HubHost {
 public:
  virtual ~HubHost() = default;
  virtual Moment now() const = 0;
  virtual void store(const std::shared_ptr<HubConnection>& from, Offer offer) = 0;
  virtual void wants_pages(const std::shared_ptr<HubConnection>& connection) = 0;
  /// Its device proved its name, or took another than `before`.
  virtual void went_live(const std::shared_ptr<HubConnection>& connection,
                         const std::string& before) = 0;
  virtual void ended(HubConnection& connection) = 0;
  virtual bool backlog_full() const = 0;
  virtual HubCounts& counts() = 0;
};

class HubConnection : public std::enable_shared_from_this<HubConnection> {
 public:
  /// `place`, `host` outlive it.
  HubConnection(TlsStream stream, HubHost& host, HubPlace& place, const std::string& source,
                const std::string& channel_binding);

  /// Serves until the connection ends. `busy`: only to be told so.
  boost::asio::awaitable<void> run(HubRequest upgrade, bool busy);

  void stored(std::uint64_t ticket, const OrError<Verdicts>& verdicts);
  void log_grew();
  void membership_changed();
  void replaced();
  void tick();
  /// Goodbye once everything that was taken is answered.
  void stop_soon();
  /// Ends it here and now.
  void cut();

  const HubSession& session() const { return session_; }

 private:
  boost::asio::awaitable<void> read_frames();
  boost::asio::awaitable<void> write_frames();
  boost::asio::awaitable<void> wait_until_it_may_read();
  void perform(HubActions actions);
  void enqueue(std::string frame);
  void close_because(const std::string& frame);

  boost::beast::websocket::stream<TlsStream, false> socket_;
  HubHost& host_;
  HubSession session_;
  boost::beast::flat_buffer read_;
  std::deque<std::string> outgoing_;
  std::size_t outgoing_bytes_ = 0;
  boost::asio::steady_timer wake_;  // cancelled when there is something to write
  boost::asio::steady_timer pause_;
  std::int64_t writing_since_ms_ = 0;
  bool live_ = false;
  std::string live_as_;  // the name that the host knows
  bool closing_ = false;
  bool stopping_ = false;
  bool cut_ = false;
  boost::beast::websocket::close_reason reason_;
};

}  // namespace chipfall
