#pragma once

#include <cstdint>
#include <string>
#include <vector>

/// What both cores are asked: doors one after another, each with a clock that stands, and requests.
/// The requests of a month depend on its answers, so the native door is asked while they are made.
namespace chipfall::test {

/// Every door names its device by these, and so do the recorded requests.
constexpr std::uint8_t kRandomByte = '*';

struct Asked {
  enum class Kind : std::uint8_t {
    kDoor = 'D',     ///< bytes: what the door is about; it begins with an empty ledger
    kClock = 'T',    ///< bytes: ms since 1970, in decimal
    kRequest = 'Q',  ///< bytes: of the request
    kAnswer = 'A',   ///< bytes: of the native response to the request before
  };
  Kind kind = Kind::kDoor;
  std::string bytes;
};

/// Every demo session, a month of them, and the recorded requests of tests/vectors/door.
std::vector<Asked> ask_native();

/// As a file: for each one its kind, the bytes' length in four bytes, the lowest first, the bytes.
std::string written(const std::vector<Asked>& all);
std::vector<Asked> read_back(const std::string& bytes);

std::string contents_of(const std::string& path);

}  // namespace chipfall::test
