#pragma once

#include <doctest/doctest.h>
#include <unistd.h>

#include <filesystem>
#include <fstream>
#include <iterator>
#include <string>
#include <vector>

#include "core/ledger/store.h"

/// Ledgers in a folder that is gone with the test.
namespace chipfall {

constexpr std::int64_t kTestNow_ms = 1'780'000'000'000;  // in 2026

class LedgerFolder {
 public:
  LedgerFolder() {
    std::string name = (std::filesystem::temp_directory_path() / "chipfall-ledger-XXXXXX").string();
    REQUIRE(::mkdtemp(name.data()) != nullptr);
    path_ = name;
  }
  LedgerFolder(const LedgerFolder&) = delete;
  LedgerFolder& operator=(const LedgerFolder&) = delete;
  ~LedgerFolder() {
    std::error_code ignored;
    std::filesystem::remove_all(path_, ignored);
  }
  std::string file(const std::string& name) const { return path_ + "/" + name; }

 private:
  std::string path_;
};

/// The value, or a failed test that says why there is none.
template <typename T>
T sure(OrError<T> result) {
  REQUIRE_MESSAGE(result.has_value(), (result ? std::string() : result.error().text()));
  if constexpr (!std::is_void_v<T>) return std::move(*result);
}

inline LedgerOptions of_device(const std::string& device) {
  LedgerOptions options;
  options.device = device;
  return options;
}

inline LedgerStore ledger(const std::string& path, const std::string& device = "phone") {
  return sure(LedgerStore::open(path, of_device(device)));
}

inline proto::Entry note(const std::string& text) {
  proto::Entry entry;
  entry.set_event_utc_ms(kTestNow_ms);
  entry.mutable_note()->set_text(text);
  return entry;
}

/// The bytes of an entry as another device sends it.
inline std::string sent(const std::string& device, std::uint64_t sequence, HybridTime clock,
                        const std::string& text) {
  proto::Entry entry = note(text);
  entry.set_device(device);
  entry.set_sequence(sequence);
  entry.mutable_clock()->set_wall_ms(clock.wall_ms);
  entry.mutable_clock()->set_counter(clock.counter);
  return entry.SerializeAsString();
}

inline std::vector<std::string> all_bytes(LedgerStore& store) {
  std::vector<std::string> bytes;
  sure(store.visit([&](const StoredEntry& entry) {
    bytes.emplace_back(entry.bytes);
    return true;
  }));
  return bytes;
}

inline std::string contents(const std::string& path) {
  std::ifstream in(path, std::ios::binary);
  return {std::istreambuf_iterator<char>(in), {}};
}

inline void overwrite(const std::string& path, std::size_t at, const std::string& bytes) {
  std::fstream file(path, std::ios::binary | std::ios::in | std::ios::out);
  file.seekp(static_cast<std::streamoff>(at));
  file.write(bytes.data(), static_cast<std::streamsize>(bytes.size()));
  REQUIRE(file.good());
}

}  // namespace chipfall
