#pragma once

#include <arpa/inet.h>
#include <netinet/in.h>
#include <poll.h>
#include <sys/socket.h>
#include <sys/time.h>
#include <unistd.h>

#include <array>
#include <atomic>
#include <random>
#include <thread>
#include <vector>

/// Passes many TCP connections on to one port and, while it is told to, cuts each after a number of
/// bytes that its seed gives. How far each then is depends on the machine; where it is cut does
/// not.
namespace chipfall {

class CuttingRelay {
 public:
  CuttingRelay(std::uint16_t to, std::uint32_t seed, long most_bytes)
      : to_(to), chance_(seed), most_bytes_(most_bytes) {
    listening_ = ::socket(AF_INET, SOCK_STREAM, 0);
    sockaddr_in any = loopback(0);
    ::bind(listening_, reinterpret_cast<sockaddr*>(&any), sizeof any);
    ::listen(listening_, 128);
    socklen_t size = sizeof any;
    ::getsockname(listening_, reinterpret_cast<sockaddr*>(&any), &size);
    port_ = ntohs(any.sin_port);
    thread_ = std::thread([this] { run(); });
  }
  CuttingRelay(const CuttingRelay&) = delete;
  CuttingRelay& operator=(const CuttingRelay&) = delete;
  ~CuttingRelay() {
    ending_ = true;
    thread_.join();
    for (const Pair& pair : pairs_) close(pair);
    ::close(listening_);
  }
  std::uint16_t port() const { return port_; }
  /// From now on, for connections that begin.
  void heal() { cutting_ = false; }
  long cuts() const { return cuts_; }

 private:
  struct Pair {
    int device = -1, hub = -1;
    long left = 0;  // bytes, of both directions
  };

  static sockaddr_in loopback(std::uint16_t port) {
    sockaddr_in address{};
    address.sin_family = AF_INET;
    address.sin_port = htons(port);
    address.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
    return address;
  }
  static void close(const Pair& pair) {
    ::close(pair.device);
    ::close(pair.hub);
  }

  void run() {
    std::vector<pollfd> ready;
    while (!ending_) {
      ready.assign(1, {listening_, POLLIN, 0});
      for (const Pair& pair : pairs_) {
        ready.push_back({pair.device, POLLIN, 0});
        ready.push_back({pair.hub, POLLIN, 0});
      }
      if (::poll(ready.data(), ready.size(), 20) <= 0) continue;
      std::vector<Pair> kept;
      for (std::size_t i = 0; i < pairs_.size(); ++i) {
        Pair pair = pairs_[i];
        bool going = true;
        if (ready[1 + 2 * i].revents != 0) going = pass(pair.device, pair.hub, pair.left);
        if (going && ready[2 + 2 * i].revents != 0) going = pass(pair.hub, pair.device, pair.left);
        going ? kept.push_back(pair) : close(pair);
      }
      pairs_ = std::move(kept);
      if (ready[0].revents != 0) begin();
    }
  }

  void begin() {
    Pair pair;
    pair.device = ::accept(listening_, nullptr, nullptr);
    pair.hub = ::socket(AF_INET, SOCK_STREAM, 0);
    pair.left =
        cutting_ ? 1 + static_cast<long>(chance_() % static_cast<unsigned>(most_bytes_)) : kNever;
    // A side that takes nothing for so long is cut too, so that one cannot hold up all.
    const timeval second{1, 0};
    ::setsockopt(pair.device, SOL_SOCKET, SO_SNDTIMEO, &second, sizeof second);
    ::setsockopt(pair.hub, SOL_SOCKET, SO_SNDTIMEO, &second, sizeof second);
    const sockaddr_in address = loopback(to_);
    if (::connect(pair.hub, reinterpret_cast<const sockaddr*>(&address), sizeof address) == 0) {
      pairs_.push_back(pair);
    } else {
      close(pair);
    }
  }

  bool pass(int from, int to, long& left) {
    std::array<char, 32768> some;
    const auto most = std::min<std::size_t>(some.size(), static_cast<std::size_t>(left));
    const auto got = ::recv(from, some.data(), most, 0);
    if (got <= 0) return false;
    left -= got;
    const auto size = static_cast<std::size_t>(got);
    if (::send(to, some.data(), size, MSG_NOSIGNAL) != got) return false;
    if (left <= 0) ++cuts_;
    return left > 0;
  }

  static constexpr long kNever = 1L << 50;
  std::uint16_t to_, port_ = 0;
  int listening_ = -1;
  std::mt19937 chance_;
  long most_bytes_;
  std::vector<Pair> pairs_;
  std::atomic<bool> cutting_{true}, ending_{false};
  std::atomic<long> cuts_{0};
  std::thread thread_;
};

}  // namespace chipfall
