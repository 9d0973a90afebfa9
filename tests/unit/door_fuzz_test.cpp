#include <doctest/doctest.h>

#include <google/protobuf/stubs/logging.h>

#include <filesystem>
#include <random>

#include "core/door/chipfall.h"
#include "tests/unit/open_door.h"

/// Bytes that no shell sends: random ones, and right requests that were damaged.

using namespace chipfall;
using namespace chipfall::test;

namespace {

using Random = std::mt19937;

std::size_t below(Random& random, std::size_t limit) {
  return std::uniform_int_distribution<std::size_t>(0, limit - 1)(random);
}

std::string noise(Random& random, std::size_t size) {
  std::string bytes(size, '\0');
  for (char& byte : bytes) byte = static_cast<char>(below(random, 256));
  return bytes;
}

std::vector<std::string> right_requests() {
  std::vector<std::string> all;
  std::vector<std::string> paths;
  for (const auto& file :
       std::filesystem::directory_iterator(CHIPFALL_SOURCE_DIR "/tests/vectors/door")) {
    paths.push_back(file.path().string());
  }
  std::ranges::sort(paths);  // the same every time
  for (const std::string& path : paths) all.push_back(contents(path));
  return all;
}

/// One to four of the ways in which bytes go wrong.
std::string damaged(Random& random, std::string bytes, const std::vector<std::string>& others) {
  const std::size_t times = 1 + below(random, 4);
  for (std::size_t i = 0; i < times; ++i) {
    const std::size_t at = below(random, bytes.size() + 1);
    switch (below(random, 6)) {
      case 0:
        if (at < bytes.size()) bytes[at] = static_cast<char>(bytes[at] ^ (1 << below(random, 8)));
        break;
      case 1:
        bytes.resize(at);
        break;
      case 2:
        bytes.insert(at, noise(random, 1 + below(random, 4)));
        break;
      case 3:
        bytes.erase(at, 1 + below(random, 8));
        break;
      case 4: {
        const std::string& other = others[below(random, others.size())];
        bytes.insert(at,
                     other.substr(0, below(random, std::min<std::size_t>(other.size(), 200) + 1)));
        break;
      }
      default:
        if (at < bytes.size()) bytes[at] = static_cast<char>(below(random, 2) == 0 ? 0xFF : 0x00);
        break;
    }
  }
  return bytes;
}

std::int64_t test_clock(void*) { return kTestNow_ms; }

std::int32_t test_random(void*, std::uint8_t* bytes, std::uint64_t size) {
  std::fill_n(bytes, size, std::uint8_t{'*'});
  return 0;
}

class CDoor {
 public:
  explicit CDoor(const std::string& folder) {
    cf_options options{};
    options.size = sizeof options;
    options.data_folder = folder.data();
    options.data_folder_size = folder.size();
    options.clock = test_clock;
    options.random = test_random;
    REQUIRE(cf_open(&options, &door_, nullptr) == CF_OK);
  }
  ~CDoor() { cf_close(door_); }
  CDoor(const CDoor&) = delete;
  CDoor& operator=(const CDoor&) = delete;

  /// Any bytes get an answer: either mistakes with words, or an answer without any.
  proto::Response answered(const std::string& bytes) {
    cf_bytes out{};
    REQUIRE(cf_call(door_, reinterpret_cast<const std::uint8_t*>(bytes.data()), bytes.size(),
                    &out) == CF_OK);
    proto::Response response;
    const bool read = response.ParseFromArray(out.data, static_cast<int>(out.size));
    cf_free(&out);
    REQUIRE(read);
    REQUIRE((response.mistakes_size() > 0) !=
            (response.answer_case() != proto::Response::ANSWER_NOT_SET));
    for (const proto::Mistake& mistake : response.mistakes()) REQUIRE(!mistake.message().empty());
    return response;
  }

 private:
  cf_door* door_ = nullptr;
};

/// protobuf writes to standard error of every text that is not UTF-8.
struct Quiet {
  google::protobuf::LogHandler* before = google::protobuf::SetLogHandler(nullptr);
  Quiet() = default;
  Quiet(const Quiet&) = delete;
  Quiet& operator=(const Quiet&) = delete;
  ~Quiet() { google::protobuf::SetLogHandler(before); }
};

}  // namespace

TEST_CASE("random bytes get an answer, with and without a shop") {
  const Quiet quiet;
  Random random(20261103);
  const LedgerFolder folder;
  {
    CDoor door(folder.file(""));
    for (int i = 0; i < 1500; ++i) door.answered(noise(random, below(random, 64)));
    door.answered(right_requests().front());
    for (int i = 0; i < 1500; ++i) door.answered(noise(random, below(random, 64)));
  }
  CHECK(cf_live_handles() == 0);
}

TEST_CASE("damaged requests get an answer, and what they recorded can be read") {
  const Quiet quiet;
  Random random(20261104);
  const LedgerFolder folder;
  const std::vector<std::string> right = right_requests();
  {
    CDoor door(folder.file(""));
    std::int64_t recorded = 0;
    const auto ask = [&](const std::string& bytes) {
      const proto::Response response = door.answered(bytes);
      recorded += response.has_recorded() || response.sheet_loaded().kept();
    };
    for (const std::string& bytes : right) ask(bytes);
    const std::int64_t before = recorded;
    for (int i = 0; i < 5000; ++i) {
      // Not the sheet all the time: reading it takes longest.
      const std::size_t which = i % 50 == 0 ? 0 : 1 + below(random, right.size() - 1);
      ask(damaged(random, right[which], right));
    }
    CHECK(recorded > before + 25);  // some damage leaves a request that can be met
    proto::Request saving;
    saving.mutable_saving();
    CHECK(door.answered(saving.SerializeAsString()).saving().entries() == recorded);
    proto::Request exported;
    exported.mutable_export_record();
    CHECK(door.answered(exported.SerializeAsString()).exported().rows() == recorded);
  }
  LedgerStore store = sure(LedgerStore::open(folder.file(kLedgerFile), {}));
  sure(store.check());
  CHECK(cf_live_handles() == 0);
}
