#pragma once

#include <doctest/doctest.h>
#include <openssl/bio.h>
#include <openssl/ssl.h>
#include <poll.h>
#include <signal.h>
#include <sys/socket.h>
#include <sys/time.h>

#include <memory>
#include <string>

/// A TLS client that does exactly what it is told, for talking to a hub in ways no device would.
namespace chipfall {

class PlainTls {
 public:
  explicit PlainTls(std::uint16_t port, int newest = TLS1_3_VERSION)
      : context_(SSL_CTX_new(TLS_client_method()), SSL_CTX_free) {
    // This client writes to hubs that have hung up; the hub and the link do without this.
    ::signal(SIGPIPE, SIG_IGN);
    SSL_CTX_set_max_proto_version(context_.get(), newest);
    bio_.reset(BIO_new_ssl_connect(context_.get()));
    BIO_set_conn_hostname(bio_.get(), ("127.0.0.1:" + std::to_string(port)).c_str());
    connected_ = BIO_do_connect(bio_.get()) == 1;
  }
  bool connected() const { return connected_; }
  bool send(const std::string& bytes) {
    return BIO_write(bio_.get(), bytes.data(), static_cast<int>(bytes.size())) > 0;
  }
  /// Gives up sending after a second without room. (With a small receive buffer the kernel would
  /// drop what it cannot take, and the acknowledgements with it: then nothing moves for another
  /// reason.)
  void give_up_after_a_second() {
    int socket = -1;
    BIO_get_fd(bio_.get(), &socket);
    const timeval second{1, 0};
    ::setsockopt(socket, SOL_SOCKET, SO_SNDTIMEO, &second, sizeof second);
  }
  /// What comes until the other side closes, or so many ms of silence.
  std::string read(int silence_ms = 3'000) {
    std::string all;
    char some[4096];
    while (true) {
      int socket = -1;
      BIO_get_fd(bio_.get(), &socket);
      pollfd ready{socket, POLLIN, 0};
      if (BIO_pending(bio_.get()) == 0 && ::poll(&ready, 1, silence_ms) <= 0) return all;
      const int got = BIO_read(bio_.get(), some, sizeof some);
      if (got <= 0) return all;
      all.append(some, static_cast<std::size_t>(got));
    }
  }
  std::string get(const std::string& target, const std::string& more = "") {
    send("GET " + target + " HTTP/1.1\r\nHost: hub\r\n" + more + "\r\n");
    return read();
  }
  /// Becomes a WebSocket; what the hub answered.
  std::string upgrade(const std::string& more = "") {
    send(
        "GET /sync HTTP/1.1\r\nHost: hub\r\nUpgrade: websocket\r\nConnection: Upgrade\r\n"
        "Sec-WebSocket-Version: 13\r\nSec-WebSocket-Key: AAAAAAAAAAAAAAAAAAAAAA==\r\n" +
        more + "\r\n");
    return read(300);
  }
  /// One WebSocket message; the mask is zero, so the bytes travel as they are.
  bool frame(const std::string& bytes, char kind = '\x82') {
    std::string head(1, kind);
    if (bytes.size() < 126) {
      head += static_cast<char>(0x80 | bytes.size());
    } else {
      head += '\xff';
      for (int shift = 56; shift >= 0; shift -= 8) head += static_cast<char>(bytes.size() >> shift);
    }
    return send(head + std::string(4, '\0') + bytes);
  }

 private:
  struct FreeAll {
    void operator()(BIO* bio) const { BIO_free_all(bio); }
  };
  std::unique_ptr<SSL_CTX, void (*)(SSL_CTX*)> context_;
  std::unique_ptr<BIO, FreeAll> bio_;
  bool connected_ = false;
};

}  // namespace chipfall
