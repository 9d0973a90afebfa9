#pragma once

#include <arpa/inet.h>
#include <netinet/in.h>
#include <sys/socket.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <cstdint>

/// Plain TCP on this computer, for relays between devices and hubs.
namespace chipfall {

inline sockaddr_in loopback(std::uint16_t port) {
  sockaddr_in address{};
  address.sin_family = AF_INET;
  address.sin_port = htons(port);
  address.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
  return address;
}

/// Listens on a free port.
class Listener {
 public:
  explicit Listener(int waiting) : socket_(::socket(AF_INET, SOCK_STREAM, 0)) {
    sockaddr_in any = loopback(0);
    ::bind(socket_, reinterpret_cast<sockaddr*>(&any), sizeof any);
    ::listen(socket_, waiting);
    socklen_t size = sizeof any;
    ::getsockname(socket_, reinterpret_cast<sockaddr*>(&any), &size);
    port_ = ntohs(any.sin_port);
  }
  Listener(const Listener&) = delete;
  Listener& operator=(const Listener&) = delete;
  ~Listener() { ::close(socket_); }
  int socket() const { return socket_; }
  std::uint16_t port() const { return port_; }

 private:
  int socket_;
  std::uint16_t port_ = 0;
};

/// One connection that came in, and the one that it is passed on to.
struct Relayed {
  int device = -1, hub = -1;
  bool connected = false;

  static Relayed accept(const Listener& listener, std::uint16_t to) {
    Relayed pair;
    pair.device = ::accept(listener.socket(), nullptr, nullptr);
    pair.hub = ::socket(AF_INET, SOCK_STREAM, 0);
    const sockaddr_in address = loopback(to);
    pair.connected =
        ::connect(pair.hub, reinterpret_cast<const sockaddr*>(&address), sizeof address) == 0;
    return pair;
  }
  void close() const {
    ::close(device);
    ::close(hub);
  }
};

/// Passes on what is there, at most so many bytes; how many, or 0 when one side has ended.
inline long pass_on(int from, int to, long most) {
  std::array<char, 32768> some;
  const auto got =
      ::recv(from, some.data(), std::min<std::size_t>(some.size(), std::size_t(most)), 0);
  if (got <= 0) return 0;
  return ::send(to, some.data(), std::size_t(got), MSG_NOSIGNAL) == got ? got : 0;
}

}  // namespace chipfall
