#include "sync/batch.h"

#include <doctest/doctest.h>

#include <random>

#include "sync/squeeze.h"
#include "sync/wire.h"
#include "tests/unit/ledger_folder.h"
#include "tests/unit/ordinary_entries.h"

namespace chipfall {
namespace {

/// Cuts into batches as a device or hub would; the bytes that they take.
std::size_t bytes_in_batches(const std::vector<std::string>& entries, std::size_t most) {
  std::size_t all = 0;
  for (std::size_t begin = 0; begin < entries.size();) {
    std::size_t end = begin, size = 0;
    while (end < entries.size() && end - begin < most &&
           size + entries[end].size() <= kMostBatchBytes) {
      size += entries[end++].size();
    }
    const std::vector<std::string> part(entries.begin() + std::ptrdiff_t(begin),
                                        entries.begin() + std::ptrdiff_t(end));
    const std::string batch = sure(encode_batch(part));
    CHECK(sure(decode_batch(batch)) == part);
    all += batch.size();
    begin = end;
  }
  return all;
}

std::size_t plain_bytes(const std::vector<std::string>& entries) {
  std::size_t all = 0;
  for (const std::string& entry : entries) all += entry.size();
  return all;
}

void check_round(const std::vector<std::string>& entries) {
  CHECK(sure(decode_batch(sure(encode_batch(entries)))) == entries);
}

TEST_CASE("ten thousand ordinary entries take at most 20 bytes each in batches") {
  const std::vector<std::string> entries = OrdinaryEntries(1).bytes(10'000);
  const auto plain = double(plain_bytes(entries)) / 10'000;
  const auto wire = double(bytes_in_batches(entries, kMostBatchEntries)) / 10'000;
  MESSAGE("plain " << plain << ", in batches " << wire << " bytes an entry");
  CHECK(plain > 60);
  CHECK(wire <= 20);
}

TEST_CASE("figures written to the last bit cost more, and stay exact") {
  const std::vector<std::string> entries = OrdinaryEntries(1, false).bytes(10'000);
  const auto wire = double(bytes_in_batches(entries, kMostBatchEntries)) / 10'000;
  MESSAGE("in batches " << wire << " bytes an entry");
  CHECK(wire <= 30);
}

TEST_CASE("batches of one evening's fifteen entries are still far below plain ones") {
  const std::vector<std::string> entries = OrdinaryEntries(2).bytes(1'500);
  const auto wire = double(bytes_in_batches(entries, 15)) / 1'500;
  MESSAGE("in batches of fifteen " << wire << " bytes an entry");
  CHECK(wire <= 0.5 * double(plain_bytes(entries)) / 1'500);
}

TEST_CASE("what is no entry, or none that is written plainly, comes back byte for byte") {
  check_round({});
  check_round({""});
  check_round({"", "\xff", std::string(1, '\0'), "text that is no message"});
  proto::Entry entry = note("a note");
  entry.set_device("phone");
  entry.set_sequence(1);
  const std::string plain = entry.SerializeAsString();
  std::string longer_length;  // the same message, its first length in two bytes
  longer_length.append(plain, 0, 1).append("\x85\x00", 2).append(plain, 2);
  REQUIRE(proto::Entry().ParseFromString(longer_length));
  check_round({plain, longer_length, std::string(plain).append(plain),
               std::string(plain, 2).append(plain)});
}

TEST_CASE("fields and kinds of newer devices come back byte for byte") {
  proto::Entry entry = note("a note");
  entry.set_device("phone");
  const std::string unknown_kind("\xc2\x3e\x05later", 8);
  const std::string unknown_number("\xc8\x3e\x96\x01", 4);
  const std::string unknown_fixed("\xcd\x3e\x01\x02\x03\x04", 6);
  const std::string group("\xcb\x3e\xcc\x3e", 4);
  const std::string bytes = entry.SerializeAsString();
  check_round({bytes + unknown_kind, unknown_kind + bytes, bytes + unknown_number + unknown_fixed,
               bytes + group});
}

TEST_CASE("figures of every sort come back bit for bit") {
  std::vector<std::string> entries;
  for (const double minutes :
       {0.0, -0.0, 1.0, -1.5, 2.283333333333333, 137.0 / 60, 0.1, 0.30000000000000004, 1e300,
        5e-324, std::numeric_limits<double>::infinity(), std::numeric_limits<double>::quiet_NaN(),
        999'999'999'999.0, 9'007'199'254'740'993.0}) {
    for (int again = 0; again < 2; ++again) {
      proto::Entry entry;
      entry.set_device("d");
      entry.set_sequence(std::numeric_limits<std::uint64_t>::max());
      entry.set_event_utc_ms(std::numeric_limits<std::int64_t>::min());
      entry.mutable_clock()->set_wall_ms(std::numeric_limits<std::int64_t>::max());
      entry.mutable_duty_done()->set_minutes(minutes);
      entries.push_back(entry.SerializeAsString());
    }
  }
  check_round(entries);
}

TEST_CASE("random messages come back byte for byte") {
  std::mt19937 random(5);
  for (int round = 0; round < 300; ++round) {
    std::vector<std::string> entries;
    for (std::uint32_t i = 0; i < random() % 20; ++i) {
      std::string entry;
      for (std::uint32_t f = 0; f < random() % 12; ++f) {
        const auto number = 1 + random() % 32;
        switch (random() % 4) {
          case 0:
            wire::put_varint(entry, number << 3);
            wire::put_varint(entry, std::uint64_t(random()) << (random() % 33));
            break;
          case 1:
            wire::put_varint(entry, number << 3 | 1);
            for (int b = 0; b < 8; ++b) entry += static_cast<char>(random());
            break;
          case 2:
            wire::put_varint(entry, number << 3 | 2);
            if (random() % 2) {
              entry += '\0';
            } else {
              wire::put_varint(entry, 3);
              for (const char byte : {'\x08', '\x01', '\x07'}) entry += byte;
            }
            break;
          default:
            entry += static_cast<char>(random());
        }
      }
      entries.push_back(entry);
    }
    check_round(entries);
  }
}

TEST_CASE("one entry of the largest size fits a batch, and more than the bounds is refused") {
  check_round({std::string(kMostEntryBytes, '\x01')});
  std::mt19937 random(9);
  std::string noise(kMostEntryBytes, '\0');
  for (char& byte : noise) byte = static_cast<char>(random());
  check_round({noise});
  CHECK(sure(encode_batch(std::vector{noise})).size() < kMostBatchBytes + 100);
  CHECK_FALSE(encode_batch(std::vector<std::string>(kMostBatchEntries + 1)).has_value());
  CHECK_FALSE(encode_batch(std::vector{noise, std::string("x")}).has_value());
}

TEST_CASE("a message with more different fields than any real one has travels as it is") {
  std::vector<std::string> entries;
  std::string entry;
  for (std::uint64_t number = 100; number < 1300; ++number) {
    wire::put_varint(entry, number << 3);
    wire::put_varint(entry, 1);
  }
  check_round({entry, note("beside it").SerializeAsString()});
}

TEST_CASE("a batch cut short anywhere is an error") {
  const std::string batch = sure(encode_batch(OrdinaryEntries(3).bytes(60)));
  for (std::size_t size = 0; size < batch.size(); ++size) {
    const auto answer = decode_batch(std::string_view(batch).substr(0, size));
    REQUIRE_FALSE(answer.has_value());
    CHECK(answer.error().message.find("batch") != std::string::npos);
  }
}

TEST_CASE("random bytes, and columns with any bit turned, never give more than a batch may have") {
  const auto harmless = [](const std::string& batch) {
    const auto answer = decode_batch(batch);
    if (!answer) return;
    std::size_t size = 0;
    for (const std::string& entry : *answer) size += entry.size();
    CHECK(answer->size() <= kMostBatchEntries);
    CHECK(size <= kMostBatchBytes);
  };
  const std::vector<std::string> entries = OrdinaryEntries(4).bytes(40);
  const std::string columns = columns_of(entries);
  std::string head("\x01\x00", 2);  // as it is: zstd would hide most of the bits
  wire::put_varint(head, columns.size());
  head += columns;
  CHECK(sure(decode_batch(head)) == entries);
  for (const std::string& whole : {head, sure(encode_batch(entries))}) {
    for (std::size_t bit = 0; bit < 8 * whole.size(); ++bit) {
      std::string turned = whole;
      turned[bit / 8] = static_cast<char>(turned[bit / 8] ^ (1 << bit % 8));
      harmless(turned);
    }
  }
  std::mt19937 random(6);
  for (int round = 0; round < 20'000; ++round) {
    std::string noise(random() % 200, '\0');
    for (char& byte : noise) byte = static_cast<char>(random() % 8 ? random() % 16 : random());
    std::string kind(random() % 2 ? "\x01\x00" : "\x01\x01", 2);
    wire::put_varint(kind, noise.size());
    harmless(kind.append(noise));
  }
}

TEST_CASE("a batch that announces more than a batch may have is refused before it is expanded") {
  std::string bomb("\x01\x01", 2);
  wire::put_varint(bomb, kMostColumnBytes + 1);
  CHECK_FALSE(
      decode_batch(bomb.append(squeeze(std::string(kMostColumnBytes + 1, '\0')))).has_value());
  std::string lying("\x01\x01", 2);
  wire::put_varint(lying, 10);
  CHECK_FALSE(decode_batch(lying.append(squeeze(std::string(1'000'000, '\0')))).has_value());
}

}  // namespace
}  // namespace chipfall
