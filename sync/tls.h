#pragma once

#include <openssl/ssl.h>

#include <boost/asio/async_result.hpp>
#include <boost/asio/buffer.hpp>
#include <boost/asio/compose.hpp>
#include <boost/asio/ip/tcp.hpp>
#include <boost/asio/post.hpp>
#include <boost/beast/core/role.hpp>
#include <memory>
#include <string>

#include "core/ledger/sqlite.h"

/// TLS 1.3 on a TCP socket, as the next layer of a Beast WebSocket.
///
/// Why not asio::ssl::stream: it holds about 68 KB for each connection, in four buffers that are
/// never given back. Here OpenSSL reads from and writes to the socket itself and lets its buffers
/// go whenever they are empty, so that an idle phone costs the hub little.
/// One thread at a time; one read and one write may be under way together.
namespace chipfall {

namespace tls {

struct FreeContext {
  void operator()(SSL_CTX* context) const { SSL_CTX_free(context); }
};
struct FreeConnection {
  void operator()(SSL* connection) const { SSL_free(connection); }
};
using Context = std::unique_ptr<SSL_CTX, FreeContext>;

/// For a hub: TLS 1.3 only, this certificate chain and key (PEM files).
OrError<Context> hub_context(const std::string& certificate_path, const std::string& key_path);
/// For a device. The hub is known by its key's fingerprint alone, see `peer_fingerprint`: names and
/// authorities are not asked, and a handshake with any other key fails.
OrError<Context> device_context(const std::string& fingerprint);

/// SHA-256 of the SubjectPublicKeyInfo of a certificate's key.
std::string fingerprint_of(X509* certificate);
OrError<std::string> fingerprint_of_file(const std::string& certificate_path);

/// What OpenSSL last complained about, in one line.
std::string complaint();

}  // namespace tls

constexpr std::size_t kChannelBindingBytes = 32;

class TlsStream {
 public:
  using executor_type = boost::asio::ip::tcp::socket::executor_type;
  enum class Side { kHub, kDevice };

  TlsStream(boost::asio::ip::tcp::socket socket, SSL_CTX* context, Side side);
  TlsStream(TlsStream&&) = default;
  TlsStream& operator=(TlsStream&&) = default;

  executor_type get_executor() { return socket_.get_executor(); }
  boost::asio::ip::tcp::socket& socket() { return socket_; }

  template <typename Token>
  auto async_handshake(Token&& token) {
    return start<void(boost::system::error_code)>(Handshake{this}, std::forward<Token>(token));
  }
  template <typename Buffers, typename Token>
  auto async_read_some(const Buffers& buffers, Token&& token) {
    return start<void(boost::system::error_code, std::size_t)>(Read<Buffers>{this, buffers},
                                                               std::forward<Token>(token));
  }
  template <typename Buffers, typename Token>
  auto async_write_some(const Buffers& buffers, Token&& token) {
    return start<void(boost::system::error_code, std::size_t)>(Write<Buffers>{this, buffers},
                                                               std::forward<Token>(token));
  }
  /// Says goodbye without waiting for the answer.
  template <typename Token>
  auto async_shutdown(Token&& token) {
    return start<void(boost::system::error_code)>(Shutdown{this}, std::forward<Token>(token));
  }

  /// The TLS exporter's bytes for "EXPORTER-Channel-Binding" (RFC 9266): the same on both ends of
  /// this connection and nowhere else.
  std::string channel_binding() const;

 private:
  enum class Need { kNothing, kRead, kWrite };
  /// What one call of OpenSSL came to.
  struct Step {
    Need need = Need::kNothing;
    std::size_t bytes = 0;
    boost::system::error_code failure;
  };
  Step handshake_step();
  Step read_step(void* to, std::size_t bytes);
  Step write_step(const void* from, std::size_t bytes);
  Step shutdown_step();
  Step step_of(int result, std::size_t bytes);
  /// Joins what lies in several buffers, so that a frame's head does not travel alone.
  static boost::asio::const_buffer joined(boost::asio::const_buffer* begin, std::size_t count);

  struct Handshake {
    TlsStream* stream;
    Step operator()() const { return stream->handshake_step(); }
    template <typename Self>
    static void complete(Self& self, const Step& step) {
      self.complete(step.failure);
    }
  };
  struct Shutdown {
    TlsStream* stream;
    Step operator()() const { return stream->shutdown_step(); }
    template <typename Self>
    static void complete(Self& self, const Step& step) {
      self.complete(step.failure);
    }
  };
  template <typename Buffers>
  struct Read {
    TlsStream* stream;
    Buffers buffers;
    Step operator()() const {
      for (auto at = boost::asio::buffer_sequence_begin(buffers);
           at != boost::asio::buffer_sequence_end(buffers); ++at) {
        const boost::asio::mutable_buffer buffer(*at);
        if (buffer.size() > 0) return stream->read_step(buffer.data(), buffer.size());
      }
      return {};
    }
    template <typename Self>
    static void complete(Self& self, const Step& step) {
      self.complete(step.failure, step.bytes);
    }
  };
  template <typename Buffers>
  struct Write {
    TlsStream* stream;
    Buffers buffers;
    Step operator()() const {
      boost::asio::const_buffer parts[kMostJoined];
      std::size_t count = 0;
      for (auto at = boost::asio::buffer_sequence_begin(buffers);
           at != boost::asio::buffer_sequence_end(buffers) && count < kMostJoined; ++at) {
        const boost::asio::const_buffer buffer(*at);
        if (buffer.size() > 0) parts[count++] = buffer;
      }
      if (count == 0) return {};
      const auto all = joined(parts, count);
      return stream->write_step(all.data(), all.size());
    }
    template <typename Self>
    static void complete(Self& self, const Step& step) {
      self.complete(step.failure, step.bytes);
    }
  };
  static constexpr std::size_t kMostJoined = 8;

  /// Calls OpenSSL until it needs no more waiting for the socket.
  template <typename Call>
  struct Operation {
    Call call;
    bool waited = false;  // a completion must not run inside the function that started it
    Step last;
    bool posted = false;

    template <typename Self>
    void operator()(Self& self, boost::system::error_code failure = {}) {
      if (posted) return Call::complete(self, last);
      if (failure) {
        last.failure = failure;
      } else {
        last = call();
        if (last.need != Need::kNothing && !last.failure) {
          waited = true;
          auto& socket = call.stream->socket_;
          socket.async_wait(last.need == Need::kRead ? boost::asio::socket_base::wait_read
                                                     : boost::asio::socket_base::wait_write,
                            std::move(self));
          return;
        }
      }
      if (waited) return Call::complete(self, last);
      posted = true;
      auto executor = call.stream->get_executor();
      boost::asio::post(executor, std::move(self));
    }
  };
  template <typename Signature, typename Call, typename Token>
  auto start(Call call, Token&& token) {
    return boost::asio::async_compose<Token, Signature>(
        Operation<Call>{std::move(call), false, {}, false}, token, socket_);
  }

  boost::asio::ip::tcp::socket socket_;
  std::unique_ptr<SSL, tls::FreeConnection> ssl_;
};

/// What Beast asks of a stream below a WebSocket.
template <typename TeardownHandler>
void async_teardown(boost::beast::role_type, TlsStream& stream, TeardownHandler&& handler) {
  stream.async_shutdown(std::forward<TeardownHandler>(handler));
}
void beast_close_socket(TlsStream& stream);

}  // namespace chipfall
