#include "tests/tools/hub_load/bare.h"

#include <boost/asio/connect.hpp>
#include <boost/asio/io_context.hpp>
#include <boost/asio/ip/tcp.hpp>
#include <boost/asio/ssl/context.hpp>
#include <boost/asio/ssl/stream.hpp>
#include <thread>
#include <vector>

#include "core/ledger/schema.h"
#include "core/proto/ledger.pb.h"
#include "tests/tools/hub_load/measured.h"

namespace chipfall::load {

namespace asio = boost::asio;
using asio::ip::tcp;

namespace {

SqliteFile new_file(const std::string& path, const std::string& tables) {
  SqliteFile file = sure(SqliteFile::open(path, true, 0));
  sure(apply_settings(file, 0));
  sure(file.run(tables));
  return file;
}

constexpr const char* kPlainTable =
    "CREATE TABLE entries (position INTEGER PRIMARY KEY, bytes BLOB NOT NULL)";

}  // namespace

double bare_rows_a_second(const std::string& path, int rows_in_one, double seconds) {
  SqliteFile file = new_file(path, kPlainTable);
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

double bare_insert_s(const std::string& path, std::span<const std::string> rows, int rows_in_one,
                     bool indexed) {
  std::vector<proto::Entry> read(rows.size());
  if (indexed) {
    for (std::size_t i = 0; i < rows.size(); ++i) read[i].ParseFromString(rows[i]);
  }
  SqliteFile file =
      new_file(path, indexed ? "CREATE TABLE entries (position INTEGER PRIMARY KEY, bytes BLOB NOT "
                               "NULL, device BLOB, sequence INTEGER, wall_ms INTEGER,"
                               " UNIQUE (device, sequence));"
                               "CREATE INDEX in_order ON entries (wall_ms, device, sequence)"
                             : kPlainTable);
  Statement insert = sure(Statement::prepare(
      file,
      indexed ? "INSERT INTO entries (bytes, device, sequence, wall_ms) VALUES (?1, ?2, ?3, ?4)"
              : "INSERT INTO entries (bytes) VALUES (?1)",
      ""));
  const auto began = Clock::now();
  for (std::size_t i = 0; i < rows.size();) {
    WriteTransaction transaction = sure(WriteTransaction::begin(file));
    for (int n = 0; n < rows_in_one && i < rows.size(); ++n, ++i) {
      insert.bind_bytes(1, rows[i]);
      if (indexed) {
        insert.bind_bytes(2, read[i].device())
            .bind(3, static_cast<std::int64_t>(read[i].sequence()))
            .bind(4, read[i].clock().wall_ms());
      }
      sure(insert.finish());
    }
    sure(transaction.commit());
  }
  return seconds_since(began);
}

double bare_tls_s(std::int64_t bytes, const std::string& certificate, const std::string& key) {
  asio::io_context io;
  tcp::acceptor acceptor(io, {asio::ip::address_v4::loopback(), 0});
  std::thread sender([&] {
    asio::io_context own;
    asio::ssl::context context(asio::ssl::context::tlsv13_server);
    context.use_certificate_chain_file(certificate);
    context.use_private_key_file(key, asio::ssl::context::pem);
    asio::ssl::stream<tcp::socket> stream(acceptor.accept(own), context);
    stream.handshake(asio::ssl::stream_base::server);
    const std::string some(16 * 1024, 'x');
    for (std::int64_t left = bytes; left > 0; left -= std::int64_t(some.size())) {
      const auto now = std::min<std::int64_t>(left, std::int64_t(some.size()));
      asio::write(stream, asio::buffer(some, static_cast<std::size_t>(now)));
    }
  });
  const auto began = Clock::now();
  asio::ssl::context context(asio::ssl::context::tlsv13_client);
  asio::ssl::stream<tcp::socket> stream(io, context);
  stream.next_layer().connect(acceptor.local_endpoint());
  stream.handshake(asio::ssl::stream_base::client);
  std::string some(16 * 1024, '\0');
  for (std::int64_t left = bytes; left > 0;) {
    left -= static_cast<std::int64_t>(stream.read_some(asio::buffer(some)));
  }
  sender.join();
  return seconds_since(began);
}

}  // namespace chipfall::load
