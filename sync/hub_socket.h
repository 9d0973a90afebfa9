#pragma once

#include <boost/asio/ip/address.hpp>
#include <boost/asio/steady_timer.hpp>
#include <memory>
#include <string>

#include "sync/hub_counts.h"
#include "sync/tls.h"

/// What the hub needs for each socket before a device is known on it.
namespace chipfall {

/// Closes a stream that has not come far enough in time.
class Deadline {
 public:
  Deadline(TlsStream& stream, std::int64_t ms)
      : timer_(stream.get_executor(), std::chrono::milliseconds(ms)),
        stream_(std::make_shared<TlsStream*>(&stream)) {
    timer_.async_wait([stream = stream_](boost::system::error_code cancelled) {
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
  boost::asio::steady_timer timer_;
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
inline std::string source_of(const boost::asio::ip::address& address) {
  if (address.is_v4()) return address.to_string();
  const auto bytes = address.to_v6().to_bytes();
  if (address.to_v6().is_v4_mapped()) return address.to_string();
  return std::string(bytes.begin(), bytes.begin() + 8);
}

}  // namespace chipfall
