#pragma once

#include <cstdint>
#include <span>
#include <string>

/// The references: the same disk and the same loopback without Chipfall.
namespace chipfall::load {

/// Rows a second in transactions of so many, with the hub's settings (WAL, synchronous=FULL) and
/// nothing but a number and the bytes in a row.
double bare_rows_a_second(const std::string& path, int rows_in_one, double seconds);

/// Seconds to insert these, each synced transaction of so many: what a device's disk and SQLite
/// take by themselves. `indexed`: in columns with two indexes as the ledger has them.
double bare_insert_s(const std::string& path, std::span<const std::string> rows, int rows_in_one,
                     bool indexed);

/// Seconds to send so many bytes through TLS 1.3 on loopback, from one thread to another.
double bare_tls_s(std::int64_t bytes, const std::string& certificate, const std::string& key);

}  // namespace chipfall::load
