#pragma once

#include <arpa/inet.h>
#include <netinet/in.h>
#include <poll.h>
#include <sys/socket.h>
#include <unistd.h>

#include <array>
#include <atomic>
#include <thread>

/// Passes one TCP connection after another on to a port and cuts each after so many bytes from
/// there.
namespace chipfall {

class Relay {
 public:
  explicit Relay(std::uint16_t to) : to_(to), listening_(::socket(AF_INET, SOCK_STREAM, 0)) {
    sockaddr_in any = loopback(0);
    ::bind(listening_, reinterpret_cast<sockaddr*>(&any), sizeof any);
    ::listen(listening_, 8);
    socklen_t size = sizeof any;
    ::getsockname(listening_, reinterpret_cast<sockaddr*>(&any), &size);
    port_ = ntohs(any.sin_port);
    thread_ = std::thread([this] { run(); });
  }
  Relay(const Relay&) = delete;
  Relay& operator=(const Relay&) = delete;
  ~Relay() {
    ending_ = true;
    thread_.join();
    ::close(listening_);
  }
  std::uint16_t port() const { return port_; }
  void cut_after(long bytes_from_hub) { cut_after_ = bytes_from_hub; }
  long cuts() const { return cuts_; }
  long passed() const { return passed_; }  // from the hub, of the last connection

 private:
  static sockaddr_in loopback(std::uint16_t port) {
    sockaddr_in address{};
    address.sin_family = AF_INET;
    address.sin_port = htons(port);
    address.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
    return address;
  }
  static bool readable(int socket, int ms) {
    pollfd ready{socket, POLLIN, 0};
    return ::poll(&ready, 1, ms) > 0;
  }
  void run() {
    while (!ending_) {
      if (!readable(listening_, 20)) continue;
      const int device = ::accept(listening_, nullptr, nullptr);
      const int hub = ::socket(AF_INET, SOCK_STREAM, 0);
      const sockaddr_in address = loopback(to_);
      if (::connect(hub, reinterpret_cast<const sockaddr*>(&address), sizeof address) == 0) {
        pass(device, hub);
      }
      ::close(device);
      ::close(hub);
    }
  }
  static bool copy(int from, int to, long most, long& copied) {
    std::array<char, 16384> some;
    const auto got = ::recv(from, some.data(),
                            std::min<std::size_t>(some.size(), static_cast<std::size_t>(most)), 0);
    if (got <= 0) return false;
    copied += got;
    return ::send(to, some.data(), static_cast<std::size_t>(got), MSG_NOSIGNAL) == got;
  }
  void pass(int device, int hub) {
    const long limit = cut_after_;
    long from_hub = 0, from_device = 0;
    bool going = true;
    while (going && !ending_) {
      pollfd both[2] = {{device, POLLIN, 0}, {hub, POLLIN, 0}};
      if (::poll(both, 2, 20) <= 0) continue;
      if (both[0].revents != 0) going = copy(device, hub, 16384, from_device);
      if (going && both[1].revents != 0) {
        const long left = limit < 0 ? 16384 : limit - from_hub;
        if (left <= 0) {
          ++cuts_;
          break;
        }
        going = copy(hub, device, left, from_hub);
      }
    }
    passed_ = from_hub;
  }

  std::uint16_t to_, port_ = 0;
  int listening_;
  std::atomic<long> cut_after_{-1}, cuts_{0}, passed_{0};
  std::atomic<bool> ending_{false};
  std::thread thread_;
};

}  // namespace chipfall
