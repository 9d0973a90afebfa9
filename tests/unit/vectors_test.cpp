#include <doctest/doctest.h>

#include <fstream>
#include <map>

#include "sync/batch.h"
#include "sync/frame.h"
#include "sync/secret.h"
#include "tests/unit/ledger_folder.h"

/// tests/vectors: bytes that every version of the protocol's readers must read, for ever.
namespace chipfall {
namespace {

std::string bytes_of(const std::string& hex) {
  std::string bytes;
  for (std::size_t i = 0; i + 1 < hex.size(); i += 2) {
    bytes += static_cast<char>(std::stoi(hex.substr(i, 2), nullptr, 16));
  }
  return bytes;
}

TEST_CASE("the recorded bytes of version 1 are read as they were meant") {
  std::ifstream in(CHIPFALL_SOURCE_DIR "/tests/vectors/version-1.txt");
  REQUIRE(in.good());
  std::vector<std::pair<std::string, std::vector<std::string>>> batches;
  std::map<std::string, std::string> single;
  std::string word, hex;
  for (std::string line; std::getline(in, line);) {
    if (line.empty() || line[0] == '#') continue;
    word = line.substr(0, line.find(' '));
    hex = line.substr(line.find(' ') + 1);
    if (word == "batch") {
      batches.push_back({bytes_of(hex), {}});
    } else if (word == "entry") {
      batches.back().second.push_back(bytes_of(hex));
    } else {
      single[word] = bytes_of(hex);
    }
  }
  CHECK(batches.size() == 2);
  for (const auto& [batch, entries] : batches) CHECK(sure(decode_batch(batch)) == entries);
  CHECK(verifier_of(single["credential"]) == single["verifier"]);
  const Transcript seen{single["hello"], single["challenge"], single["binding"]};
  CHECK(proof_of(single["credential"], seen) == single["proof"]);
  CHECK(proof_holds(single["verifier"], single["proof"], seen));
  const proto::Frame frame = sure(decode_frame(single["frame"]));
  CHECK(frame.pull().after() == 300);
  CHECK(frame.pull().credit() == 262144);
}

}  // namespace
}  // namespace chipfall
