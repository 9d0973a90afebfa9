#include "tests/tools/hub_load/pushing.h"

#include <fmt/format.h>

#include <algorithm>
#include <boost/asio/co_spawn.hpp>
#include <boost/asio/detached.hpp>
#include <boost/asio/io_context.hpp>
#include <boost/asio/use_awaitable.hpp>
#include <boost/beast/core/flat_buffer.hpp>
#include <boost/beast/websocket/stream.hpp>
#include <deque>
#include <filesystem>
#include <functional>

#include "sync/batch.h"
#include "sync/hub_path.h"
#include "sync/installation.h"
#include "sync/secret.h"
#include "sync/tls.h"
#include "tests/tools/hub_load/bare.h"
#include "tests/tools/hub_load/hub_child.h"
#include "tests/unit/ordinary_entries.h"

namespace chipfall::load {

namespace asio = boost::asio;
using asio::ip::tcp;

namespace {

/// One device: its batches, and what it measured.
struct Device {
  std::string name, credential;
  std::vector<std::string> pushes;  // frames
  std::vector<std::size_t> entries;
  std::vector<double> waited_ms;
};

/// Sequences 1, 2, 3 ... of one device, in batches as large as allowed.
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

class Client {
 public:
  Client(asio::io_context& io, SSL_CTX* context, const std::string& shop, Device& device)
      : io_(io), context_(context), shop_(shop), device_(device) {}

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
  const std::string& shop_;
  Device& device_;
  std::unique_ptr<Socket> socket_;
  std::string last_;
  std::uint64_t credit_ = 0;
};

void wait_for_all(asio::io_context& io, std::vector<std::unique_ptr<Client>>& clients,
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

/// A hub with these devices as members of its shop, and a connection of each.
class Crowd {
 public:
  Crowd(std::vector<Device> devices, const std::string& path)
      : devices_(std::move(devices)), folder_(sure(HubFolder::open(path, true))) {
    sure(folder_.ensure_keys());
    {
      const auto log = sure(folder_.add_shop("Load", {}));
      shop_ = log->shop();
      for (const Device& device : devices_) {
        sure(log->put_device({device.name, device.name, verifier_of(device.credential),
                              proto::ROLE_MEMBER, "", "", 1, false}));
      }
    }
    hub_ = std::make_unique<HubChild>(folder_);
    context_ = sure(tls::device_context(sure(tls::fingerprint_of_file(folder_.certificate()))));
    for (Device& device : devices_) {
      clients_.push_back(std::make_unique<Client>(io_, context_.get(), shop_, device));
    }
  }
  void connect() {
    wait_for_all(io_, clients_, [&](Client& client) { return client.connect(hub_->port()); });
  }
  void push_all() {
    wait_for_all(io_, clients_, [](Client& client) { return client.push_all(); });
  }
  const std::vector<Device>& devices() const { return devices_; }
  HubChild& hub() { return *hub_; }

 private:
  std::vector<Device> devices_;
  HubFolder folder_;
  std::string shop_;
  std::unique_ptr<HubChild> hub_;
  tls::Context context_;
  asio::io_context io_{1};
  std::vector<std::unique_ptr<Client>> clients_;
};

}  // namespace

std::vector<Line> measure_push(int devices, int entries, const std::string& path) {
  const double alone = bare_rows_a_second(path + "/bare-1", 1, 1.0);
  const double hundreds = bare_rows_a_second(path + "/bare-100", 100, 2.0);
  std::vector<Device> all;
  std::size_t pushed_bytes = 0;
  for (int i = 0; i < devices; ++i) {
    all.push_back(device_with(entries, static_cast<std::uint32_t>(i)));
    for (const std::string& push : all.back().pushes) pushed_bytes += push.size();
  }
  Crowd crowd(std::move(all), path + "/push");
  crowd.connect();
  const auto began = Clock::now();
  crowd.push_all();
  const double took = seconds_since(began);
  const std::int64_t commits = crowd.hub().stop();
  std::vector<double> waited;
  for (const Device& device : crowd.devices()) {
    waited.insert(waited.end(), device.waited_ms.begin(), device.waited_ms.end());
  }
  std::sort(waited.begin(), waited.end());
  const double total = double(devices) * entries, rate = total / took;
  return {
      {fmt::format("{} devices push {} entries each, acknowledged when on disk", devices, entries),
       fmt::format("{:.0f}/s", rate), "limit 100,000/s", fmt::format("{:.2f}", rate / 1e5)},
      {"  bare SQLite, 100 a transaction; limit 0.3 of it", "", fmt::format("{:.0f}/s", hundreds),
       fmt::format("{:.2f}", rate / hundreds)},
      {"  bare SQLite, one a transaction", "", fmt::format("{:.0f}/s", alone),
       fmt::format("{:.0f}", rate / alone)},
      {"  entries in one commit", fmt::format("{:.0f}", total / double(commits)), "", ""},
      {"  a push waits, median and 99 of 100",
       fmt::format("{:.0f} ms, {:.0f} ms", waited[waited.size() / 2],
                   waited[waited.size() * 99 / 100]),
       "", ""},
      {"  bytes an entry on the wire", fmt::format("{:.1f}", double(pushed_bytes) / total),
       "limit 20", fmt::format("{:.2f}", double(pushed_bytes) / total / 20)},
  };
}

std::vector<Line> measure_idle(int connections, const std::string& path) {
  std::vector<Device> all;
  for (int i = 0; i < connections; ++i) all.push_back(device_with(0, 1));
  Crowd crowd(std::move(all), path + "/idle");
  const std::int64_t before = crowd.hub().resident_bytes();
  crowd.connect();
  const std::int64_t after = crowd.hub().resident_bytes();
  crowd.hub().stop();
  const double each_kb = double(after - before) / connections / 1024;
  return {{fmt::format("an idle connection, of {}", connections), fmt::format("{:.1f} KB", each_kb),
           "limit 40 KB", fmt::format("{:.2f}", each_kb / 40)},
          {"  the whole hub then", fmt::format("{:.0f} MB", double(after) / 1e6), "", ""}};
}

}  // namespace chipfall::load
