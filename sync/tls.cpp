#include "sync/tls.h"

#include <fmt/format.h>
#include <openssl/err.h>
#include <openssl/pem.h>
#include <openssl/x509.h>
#include <sys/socket.h>

#include <algorithm>
#include <array>
#include <boost/asio/error.hpp>
#include <boost/asio/ssl/error.hpp>
#include <cerrno>
#include <cstdio>
#include <cstring>

#include "sync/secret.h"

namespace chipfall {

namespace {

tl::unexpected<Error> tls_error(const std::string& path, std::string message) {
  return tl::unexpected(Error{ErrorCode::kUnreadable, std::move(message), {path, 0, 0, ""}});
}

/// Reads and writes the socket as OpenSSL's own socket BIO does, but a peer that has gone is an
/// error and not a signal that ends the program.
int socket_of(BIO* bio) {
  return static_cast<int>(reinterpret_cast<std::intptr_t>(BIO_get_data(bio)));
}

bool try_again() { return errno == EAGAIN || errno == EWOULDBLOCK || errno == EINTR; }

int read_socket(BIO* bio, char* to, int bytes) {
  BIO_clear_retry_flags(bio);
  const auto got = ::recv(socket_of(bio), to, static_cast<std::size_t>(bytes), 0);
  if (got < 0 && try_again()) BIO_set_retry_read(bio);
  return static_cast<int>(got);
}

int write_socket(BIO* bio, const char* from, int bytes) {
  BIO_clear_retry_flags(bio);
  const auto put = ::send(socket_of(bio), from, static_cast<std::size_t>(bytes), MSG_NOSIGNAL);
  if (put < 0 && try_again()) BIO_set_retry_write(bio);
  return static_cast<int>(put);
}

long control_socket(BIO*, int command, long, void*) { return command == BIO_CTRL_FLUSH ? 1 : 0; }

const BIO_METHOD* socket_method() {
  static BIO_METHOD* const method = [] {
    BIO_METHOD* made = BIO_meth_new(BIO_get_new_index() | BIO_TYPE_SOURCE_SINK, "chipfall socket");
    BIO_meth_set_read(made, read_socket);
    BIO_meth_set_write(made, write_socket);
    BIO_meth_set_ctrl(made, control_socket);
    return made;
  }();
  return method;
}

OrError<tls::Context> context_for(const SSL_METHOD* method) {
  tls::Context context(SSL_CTX_new(method));
  if (!context || SSL_CTX_set_min_proto_version(context.get(), TLS1_3_VERSION) != 1) {
    return tls_error("", "TLS 1.3 could not be set up: " + tls::complaint());
  }
  SSL_CTX_set_mode(context.get(), SSL_MODE_RELEASE_BUFFERS | SSL_MODE_ENABLE_PARTIAL_WRITE |
                                      SSL_MODE_ACCEPT_MOVING_WRITE_BUFFER);
  // A device connects a few times a day: resuming would save little, and the tickets cost a
  // write of their own on each connection.
  SSL_CTX_set_session_cache_mode(context.get(), SSL_SESS_CACHE_OFF);
  SSL_CTX_set_num_tickets(context.get(), 0);
  return context;
}

/// Where a context keeps the fingerprint that it pins.
int fingerprint_slot() {
  static const int slot = SSL_CTX_get_ex_new_index(
      0, nullptr, nullptr, nullptr, [](void*, void* kept, CRYPTO_EX_DATA*, int, long, void*) {
        delete static_cast<std::string*>(kept);
      });
  return slot;
}

/// Replaces OpenSSL's chain check altogether: the right key is the right hub, any other is not.
int is_pinned(X509_STORE_CTX* store, void*) {
  const auto* ssl =
      static_cast<SSL*>(X509_STORE_CTX_get_ex_data(store, SSL_get_ex_data_X509_STORE_CTX_idx()));
  const auto* pinned = static_cast<const std::string*>(
      SSL_CTX_get_ex_data(SSL_get_SSL_CTX(ssl), fingerprint_slot()));
  X509* leaf = X509_STORE_CTX_get0_cert(store);
  if (leaf != nullptr && pinned != nullptr && same_secret(tls::fingerprint_of(leaf), *pinned)) {
    X509_STORE_CTX_set_error(store, X509_V_OK);
    return 1;
  }
  X509_STORE_CTX_set_error(store, X509_V_ERR_CERT_REJECTED);
  return 0;
}

}  // namespace

namespace tls {

std::string complaint() {
  std::array<char, 256> text{};
  const unsigned long code = ERR_get_error();
  ERR_clear_error();
  if (code == 0) return "no reason given";
  ERR_error_string_n(code, text.data(), text.size());
  return text.data();
}

OrError<Context> hub_context(const std::string& certificate_path, const std::string& key_path) {
  auto context = context_for(TLS_server_method());
  if (!context) return context;
  if (SSL_CTX_use_certificate_chain_file(context->get(), certificate_path.c_str()) != 1) {
    return tls_error(certificate_path, "this is no certificate in PEM form: " + complaint());
  }
  if (SSL_CTX_use_PrivateKey_file(context->get(), key_path.c_str(), SSL_FILETYPE_PEM) != 1) {
    return tls_error(key_path,
                     "this is no key in PEM form, or not that of the certificate: " + complaint());
  }
  return context;
}

OrError<Context> device_context(const std::string& fingerprint) {
  auto context = context_for(TLS_client_method());
  if (!context) return context;
  SSL_CTX_set_ex_data(context->get(), fingerprint_slot(), new std::string(fingerprint));
  SSL_CTX_set_verify(context->get(), SSL_VERIFY_PEER, nullptr);
  SSL_CTX_set_cert_verify_callback(context->get(), is_pinned, nullptr);
  return context;
}

std::string fingerprint_of(X509* certificate) {
  unsigned char* encoded = nullptr;
  const int bytes = i2d_X509_PUBKEY(X509_get_X509_PUBKEY(certificate), &encoded);
  if (bytes <= 0) return {};
  std::string hash =
      sha256({reinterpret_cast<const char*>(encoded), static_cast<std::size_t>(bytes)});
  OPENSSL_free(encoded);
  return hash;
}

OrError<std::string> fingerprint_of_file(const std::string& certificate_path) {
  std::unique_ptr<std::FILE, int (*)(std::FILE*)> file(std::fopen(certificate_path.c_str(), "r"),
                                                       std::fclose);
  if (!file)
    return tls_error(certificate_path, std::string("cannot be read: ") + std::strerror(errno));
  std::unique_ptr<X509, void (*)(X509*)> certificate(
      PEM_read_X509(file.get(), nullptr, nullptr, nullptr), X509_free);
  if (!certificate) {
    return tls_error(certificate_path, "this is no certificate in PEM form: " + complaint());
  }
  return fingerprint_of(certificate.get());
}

}  // namespace tls

TlsStream::TlsStream(boost::asio::ip::tcp::socket socket, SSL_CTX* context, Side side)
    : socket_(std::move(socket)), ssl_(SSL_new(context)) {
  boost::system::error_code ignored;
  socket_.non_blocking(true, ignored);
  socket_.set_option(boost::asio::ip::tcp::no_delay(true), ignored);
  if (!ssl_) return;  // the handshake then fails
  BIO* bio = BIO_new(socket_method());
  if (bio == nullptr) {
    ssl_.reset();
    return;
  }
  BIO_set_data(bio, reinterpret_cast<void*>(static_cast<std::intptr_t>(socket_.native_handle())));
  BIO_set_init(bio, 1);
  SSL_set_bio(ssl_.get(), bio, bio);
  if (side == Side::kHub) {
    SSL_set_accept_state(ssl_.get());
  } else {
    SSL_set_connect_state(ssl_.get());
  }
}

TlsStream::Step TlsStream::step_of(int result, std::size_t bytes) {
  Step step;
  if (result > 0) {
    step.bytes = bytes;
    return step;
  }
  const int system_error = errno;
  switch (SSL_get_error(ssl_.get(), result)) {
    case SSL_ERROR_WANT_READ:
      step.need = Need::kRead;
      break;
    case SSL_ERROR_WANT_WRITE:
      step.need = Need::kWrite;
      break;
    case SSL_ERROR_ZERO_RETURN:
      step.failure = boost::asio::error::eof;
      break;
    case SSL_ERROR_SYSCALL:
      step.failure =
          system_error == 0
              ? boost::system::error_code(boost::asio::ssl::error::stream_truncated)
              : boost::system::error_code(system_error, boost::system::system_category());
      break;
    default:
      step.failure = {static_cast<int>(ERR_get_error()), boost::asio::error::get_ssl_category()};
      if (!step.failure) step.failure = boost::asio::ssl::error::stream_truncated;
  }
  ERR_clear_error();
  return step;
}

TlsStream::Step TlsStream::handshake_step() {
  if (!ssl_) return {Need::kNothing, 0, boost::asio::error::no_memory};
  if (!socket_.is_open()) return {Need::kNothing, 0, boost::asio::error::operation_aborted};
  errno = 0;
  return step_of(SSL_do_handshake(ssl_.get()), 0);
}

TlsStream::Step TlsStream::read_step(void* to, std::size_t bytes) {
  if (!socket_.is_open()) return {Need::kNothing, 0, boost::asio::error::operation_aborted};
  errno = 0;
  std::size_t got = 0;
  const int result = SSL_read_ex(ssl_.get(), to, bytes, &got);
  return step_of(result, got);
}

TlsStream::Step TlsStream::write_step(const void* from, std::size_t bytes) {
  if (!socket_.is_open()) return {Need::kNothing, 0, boost::asio::error::operation_aborted};
  errno = 0;
  std::size_t put = 0;
  const int result = SSL_write_ex(ssl_.get(), from, bytes, &put);
  return step_of(result, put);
}

TlsStream::Step TlsStream::shutdown_step() {
  if (!socket_.is_open()) return {Need::kNothing, 0, boost::asio::error::operation_aborted};
  errno = 0;
  const int result = SSL_shutdown(ssl_.get());
  return result >= 0 ? Step{} : step_of(result, 0);
}

boost::asio::const_buffer TlsStream::joined(boost::asio::const_buffer* parts, std::size_t count) {
  if (count == 1) return parts[0];
  // The largest record. Asked again after waiting, the same parts give the same bytes.
  thread_local std::array<char, SSL3_RT_MAX_PLAIN_LENGTH> together;
  std::size_t bytes = 0;
  for (std::size_t i = 0; i < count && bytes < together.size(); ++i) {
    const std::size_t some = std::min(parts[i].size(), together.size() - bytes);
    std::memcpy(together.data() + bytes, parts[i].data(), some);
    bytes += some;
  }
  return {together.data(), bytes};
}

std::string TlsStream::channel_binding() const {
  constexpr std::string_view kLabel = "EXPORTER-Channel-Binding";
  std::string bytes(kChannelBindingBytes, '\0');
  if (SSL_export_keying_material(ssl_.get(), reinterpret_cast<unsigned char*>(bytes.data()),
                                 bytes.size(), kLabel.data(), kLabel.size(), nullptr, 0, 1) != 1) {
    return {};
  }
  return bytes;
}

void beast_close_socket(TlsStream& stream) {
  boost::system::error_code ignored;
  stream.socket().close(ignored);
}

}  // namespace chipfall
