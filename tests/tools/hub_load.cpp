// Many devices push to one hub over TLS on loopback: entries a second that are acknowledged, so on
// disk, and how long a push waits for that; beside bare SQLite on the same disk in the same run.
#include <fmt/format.h>

#include <CLI/CLI.hpp>
#include <algorithm>
#include <boost/asio/co_spawn.hpp>
#include <boost/asio/detached.hpp>
#include <boost/asio/io_context.hpp>
#include <boost/asio/use_awaitable.hpp>
#include <boost/beast/core/flat_buffer.hpp>
#include <boost/beast/websocket/stream.hpp>
#include <chrono>
#include <deque>
#include <filesystem>
#include <fstream>
#include <functional>
#include <iostream>
#include <thread>

#include "core/ledger/schema.h"
#include "sync/batch.h"
#include "sync/hub_server.h"
#include "sync/installation.h"
#include "sync/secret.h"
#include "sync/tls.h"
#include "tests/unit/ordinary_entries.h"

namespace chipfall {
namespace {

namespace asio = boost::asio;
using asio::ip::tcp;
using Clock = std::chrono::steady_clock;

double seconds_since(Clock::time_point began) {
  return std::chrono::duration<double>(Clock::now() - began).count();
}

template <typename T>
T sure(OrError<T> result) {
  if (!result) throw std::runtime_error(result.error().text());
  if constexpr (!std::is_void_v<T>) return std::move(*result);
}

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

/// Rows a second in transactions of so many, with the settings of the hub.
double bare_sqlite(const std::string& path, int rows_in_one, double seconds) {
  SqliteFile file = sure(SqliteFile::open(path, true, 0));
  sure(apply_settings(file, 0));
  sure(file.run("CREATE TABLE entries (position INTEGER PRIMARY KEY, bytes BLOB NOT NULL)"));
  Statement insert = sure(Statement::prepare(file, "INSERT INTO entries (bytes) VALUES (?1)", ""));
  const std::string bytes(60, 'x');
  std::int64_t rows = 0;
  const auto began = Clock::now();
  while (seconds_since(began) < seconds) {
    WriteTransaction transaction = sure(WriteTransaction::begin(file));
    for (int i = 0; i < rows_in_one; ++i) sure(insert.bind_bytes(1, bytes).finish());
    sure(transaction.commit());
    rows += rows_in_one;
  }
  return static_cast<double>(rows) / seconds_since(began);
}

std::int64_t resident_bytes() {
  std::ifstream statm("/proc/self/statm");
  std::int64_t pages = 0, resident = 0;
  statm >> pages >> resident;
  return resident * 4096;
}

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

void run(int devices, int entries, const std::string& path) {
  std::filesystem::create_directories(path);
  const double alone = bare_sqlite(path + "/bare-1", 1, 1.0);
  const double hundreds = bare_sqlite(path + "/bare-100", 100, 2.0);
  std::vector<Device> all;
  std::size_t pushed_bytes = 0;
  for (int i = 0; i < devices; ++i) {
    all.push_back(device_with(entries, static_cast<std::uint32_t>(i)));
    for (const std::string& push : all.back().pushes) pushed_bytes += push.size();
  }
  const HubFolder folder = sure(HubFolder::open(path + "/hub", true));
  std::string shop;
  {
    const auto log = sure(folder.add_shop("Load", {}));
    shop = log->shop();
    for (const Device& device : all) {
      sure(log->put_device({device.name, device.name, verifier_of(device.credential),
                            proto::ROLE_MEMBER, "", "", 1, false}));
    }
  }
  HubJournal journal([](const std::string&) {}, [] { return moment_now().utc_ms; });
  HubServerOptions options;
  options.settings.bind = "127.0.0.1";
  options.settings.port = 0;
  options.settings.connections = kMostConnections;
  const auto hub = sure(HubServer::open(folder, options, journal));
  std::thread serving([&] { hub->run(); });
  const tls::Context context = sure(tls::device_context(hub->fingerprint()));
  asio::io_context io(1);
  std::vector<std::unique_ptr<Client>> clients;
  for (Device& device : all) {
    clients.push_back(std::make_unique<Client>(io, context.get(), shop, device));
  }
  const std::int64_t before = resident_bytes();
  wait_for_all(io, clients, [&](Client& client) { return client.connect(hub->port()); });
  const std::int64_t idle = (resident_bytes() - before) / devices;
  const auto began = Clock::now();
  wait_for_all(io, clients, [](Client& client) { return client.push_all(); });
  const double took = seconds_since(began);
  std::vector<double> waited;
  for (const Device& device : all) {
    waited.insert(waited.end(), device.waited_ms.begin(), device.waited_ms.end());
  }
  std::sort(waited.begin(), waited.end());
  const double total = double(devices) * entries;
  const auto commits = hub->counts().commits.load();
  hub->stop();
  serving.join();
  fmt::print("{} devices x {} entries, {:.1f} bytes an entry on the wire\n", devices, entries,
             double(pushed_bytes) / total);
  fmt::print("acknowledged durable   {:9.0f} entries/s, {} commits in {:.2f} s\n", total / took,
             commits, took);
  fmt::print("a push waits           {:9.1f} ms median, {:.1f} ms for 99 of 100\n",
             waited[waited.size() / 2], waited[waited.size() * 99 / 100]);
  fmt::print("bare SQLite            {:9.0f} rows/s in hundreds, {:.0f} one by one\n", hundreds,
             alone);
  fmt::print("ratio to hundreds      {:9.2f}\n", total / took / hundreds);
  fmt::print("an idle connection     {:9.1f} KB at both ends together\n", double(idle) / 1024);
}

}  // namespace
}  // namespace chipfall

int main(int argc, char** argv) {
  CLI::App app("Measures how many entries a second a hub acknowledges.", "hub_load");
  int devices = 50, entries = 4'000;
  std::string path = "hub-load";
  app.add_option("--devices", devices, "How many connect at once")->check(CLI::Range(1, 10'000));
  app.add_option("--entries", entries, "How many each pushes")->check(CLI::Range(1, 1'000'000));
  app.add_option("--folder", path, "Where to write; on the disk that is to be measured");
  CLI11_PARSE(app, argc, argv);
  try {
    if (std::filesystem::exists(path)) throw std::runtime_error(path + " is there already");
    chipfall::run(devices, entries, path);
    std::filesystem::remove_all(path);
  } catch (const std::exception& failure) {
    std::cerr << "hub_load: " << failure.what() << "\n";
    return 1;
  }
}
