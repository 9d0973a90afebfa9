#include "tests/tools/hub_load/crowd.h"

#include <fmt/format.h>
#include <sys/resource.h>

#include <algorithm>
#include <boost/asio/co_spawn.hpp>
#include <boost/asio/detached.hpp>
#include <boost/asio/io_context.hpp>
#include <boost/asio/use_awaitable.hpp>
#include <boost/beast/core/flat_buffer.hpp>
#include <boost/beast/websocket/stream.hpp>
#include <deque>
#include <functional>
#include <span>

#include "sync/batch.h"
#include "sync/frame.h"
#include "sync/hub_path.h"
#include "sync/installation.h"
#include "sync/secret.h"
#include "sync/tls.h"
#include "tests/tools/hub_load/measured.h"
#include "tests/unit/ordinary_entries.h"

namespace chipfall::load {

namespace asio = boost::asio;
using asio::ip::tcp;

Device device_with(int entries, std::uint32_t seed) {
  Device device;
  device.name = fresh_bytes(16);
  device.credential = fresh_bytes(kCredentialBytes);
  OrdinaryEntries ordinary(seed, true, 1);
  std::vector<std::string> batch;
  std::size_t bytes = 0;
  std::uint64_t sequence = 0, sent = 0;
  const auto close_batch = [&] {
    proto::Frame frame;
    proto::Push& push = *frame.mutable_push();
    push.set_number(device.pushes.size() + 1);
    push.set_device(device.name);
    push.set_after(sent);
    push.set_batch(sure(encode_batch(batch)));
    device.pushes.push_back(encode_frame(frame));
    device.entries.push_back(batch.size());
    sent = sequence;
    batch.clear();
    bytes = 0;
  };
  while (sequence < static_cast<std::uint64_t>(entries)) {
    for (proto::Entry& entry : ordinary.session()) {
      entry.set_device(device.name);
      entry.set_sequence(sequence + 1);
      std::string encoded = entry.SerializeAsString();
      if (batch.size() == kMostBatchEntries || bytes + encoded.size() > kMostBatchBytes)
        close_batch();
      bytes += encoded.size();
      batch.push_back(std::move(encoded));
      if (++sequence == static_cast<std::uint64_t>(entries)) break;
    }
  }
  if (!batch.empty()) close_batch();
  return device;
}

namespace {

constexpr std::size_t kConnectAtOnce = 250;

class Client {
 public:
  Client(asio::io_context& io, SSL_CTX* context, std::string shop, Device& device)
      : io_(io), context_(context), shop_(std::move(shop)), device_(device) {}

  asio::awaitable<void> connect(std::uint16_t port) {
    tcp::socket socket(io_);
    co_await socket.async_connect({asio::ip::address_v4::loopback(), port}, asio::use_awaitable);
    socket_ =
        std::make_unique<Socket>(TlsStream(std::move(socket), context_, TlsStream::Side::kDevice));
    co_await socket_->next_layer().async_handshake(asio::use_awaitable);
    socket_->read_message_max(kMostFrameBytes);
    socket_->auto_fragment(false);
    socket_->write_buffer_bytes(32 * 1024);
    socket_->binary(true);
    co_await socket_->async_handshake("hub", kSyncPath, asio::use_awaitable);
    co_await prove();
  }

  /// Keeps as much on its way as the hub allows.
  asio::awaitable<void> push_all() {
    std::size_t next = 0, under_way = 0;
    std::deque<Clock::time_point> sent_at;
    std::deque<std::size_t> sizes;
    while (next < device_.pushes.size() || !sent_at.empty()) {
      while (next < device_.pushes.size() && under_way + device_.pushes[next].size() <= credit_) {
        const std::string& frame = device_.pushes[next++];
        sent_at.push_back(Clock::now());
        sizes.push_back(frame.size());
        under_way += frame.size();
        co_await socket_->async_write(asio::buffer(frame), asio::use_awaitable);
      }
      const proto::Frame answer = co_await receive();
      if (!answer.has_ack()) continue;
      device_.waited_ms.push_back(1e3 * seconds_since(sent_at.front()));
      under_way -= sizes.front();
      sent_at.pop_front();
      sizes.pop_front();
    }
  }

 private:
  using Socket = boost::beast::websocket::stream<TlsStream, false>;

  asio::awaitable<void> prove() {
    proto::Frame hello;
    hello.mutable_hello()->mutable_versions()->CopyFrom(own_versions());
    hello.mutable_hello()->set_shop(shop_);
    hello.mutable_hello()->set_device(device_.name);
    hello.mutable_hello()->set_nonce(fresh_bytes(kNonceBytes));
    const std::string said = encode_frame(hello);
    co_await socket_->async_write(asio::buffer(said), asio::use_awaitable);
    co_await receive();
    const std::string challenge = last_.substr(kFrameSumBytes);
    proto::Frame proof;
    proof.mutable_proof()->set_proof(
        proof_of(device_.credential, {std::string_view(said).substr(kFrameSumBytes), challenge,
                                      socket_->next_layer().channel_binding()}));
    const std::string proved = encode_frame(proof);
    co_await socket_->async_write(asio::buffer(proved), asio::use_awaitable);
    const proto::Frame welcome = co_await receive();
    credit_ = welcome.welcome().push_credit();
  }

  asio::awaitable<proto::Frame> receive() {
    boost::beast::flat_buffer read;
    co_await socket_->async_read(read, asio::use_awaitable);
    last_.assign(static_cast<const char*>(read.cdata().data()), read.size());
    proto::Frame frame = sure(decode_frame(last_));
    if (frame.has_refusal()) throw std::runtime_error(frame.refusal().sentence());
    co_return frame;
  }

  asio::io_context& io_;
  SSL_CTX* context_;
  std::string shop_;
  Device& device_;
  std::unique_ptr<Socket> socket_;
  std::string last_;
  std::uint64_t credit_ = 0;
};

void wait_for_all(asio::io_context& io, std::span<std::unique_ptr<Client>> clients,
                  const std::function<asio::awaitable<void>(Client&)>& what) {
  std::exception_ptr failure;
  for (auto& client : clients) {
    asio::co_spawn(io, what(*client), [&failure](std::exception_ptr failed) {
      if (failed) failure = failed;
    });
  }
  io.restart();
  io.run();
  if (failure) std::rethrow_exception(failure);
}

}  // namespace

class Crowd::Inside {
 public:
  Inside(std::vector<Device> devices, const HubFolder& folder, int shops)
      : devices_(std::move(devices)) {
    sure(folder.ensure_keys());
    context_ = sure(tls::device_context(sure(tls::fingerprint_of_file(folder.certificate()))));
    std::vector<std::unique_ptr<SqliteHubLog>> logs;
    for (int i = 0; i < shops; ++i) {
      logs.push_back(sure(folder.add_shop(fmt::format("Crowd {}", i), {})));
    }
    for (std::size_t i = 0; i < devices_.size(); ++i) {
      Device& device = devices_[i];
      SqliteHubLog& log = *logs[i % logs.size()];
      sure(log.put_device({device.name, device.name, verifier_of(device.credential),
                           proto::ROLE_MEMBER, "", "", 1, false}));
      clients_.push_back(std::make_unique<Client>(io_, context_.get(), log.shop(), device));
    }
  }
  void connect(std::uint16_t port) {
    // Not all in one moment: on a slow machine the last ones' time for a handshake would run out.
    for (std::size_t i = 0; i < clients_.size(); i += kConnectAtOnce) {
      const auto some = std::span(clients_).subspan(i);
      wait_for_all(io_, some.first(std::min(some.size(), kConnectAtOnce)),
                   [&](Client& client) { return client.connect(port); });
    }
  }
  void push_all() {
    wait_for_all(io_, clients_, [](Client& client) { return client.push_all(); });
  }
  const std::vector<Device>& devices() const { return devices_; }

 private:
  std::vector<Device> devices_;
  tls::Context context_;
  asio::io_context io_{1};
  std::vector<std::unique_ptr<Client>> clients_;
};

Crowd::Crowd(std::vector<Device> devices, const HubFolder& folder, int shops)
    : inside_(std::make_unique<Inside>(std::move(devices), folder, shops)) {}
Crowd::~Crowd() = default;
void Crowd::connect(std::uint16_t port) { inside_->connect(port); }
void Crowd::push_all() { inside_->push_all(); }
const std::vector<Device>& Crowd::devices() const { return inside_->devices(); }

std::uint64_t allow_open_files(std::uint64_t wanted) {
  rlimit most{};
  ::getrlimit(RLIMIT_NOFILE, &most);
  if (most.rlim_cur < wanted) {
    most.rlim_cur = std::min<rlim_t>(wanted, most.rlim_max);
    ::setrlimit(RLIMIT_NOFILE, &most);
    ::getrlimit(RLIMIT_NOFILE, &most);
  }
  return most.rlim_cur;
}

}  // namespace chipfall::load
