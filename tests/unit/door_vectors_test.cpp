#include <doctest/doctest.h>

#include <filesystem>
#include <map>

#include "tests/unit/open_door.h"

/// Requests as a shell of door format 1 sent them, in tests/vectors/door/. They were recorded once
/// and are never made anew: a change that they notice would break shells out there. New kinds of
/// request get files of their own.

using namespace chipfall;
using namespace chipfall::test;

namespace {

namespace fs = std::filesystem;
using Answer = proto::Response::AnswerCase;

/// What the name of a file begins with after its number, and the answer that belongs to it.
const std::map<std::string, Answer> kAnswers{
    {"load", Answer::kSheetLoaded},  {"check", Answer::kChecked},
    {"list", Answer::kShop},         {"wind", Answer::kWindDown},
    {"draw", Answer::kMap},          {"record", Answer::kRecorded},
    {"standing", Answer::kStanding}, {"history", Answer::kHistory},
    {"export", Answer::kExported},   {"saving", Answer::kSaving},
    {"lock", Answer::kLockUp},       {"bins", Answer::kBins},
    {"round", Answer::kRound},       {"coordinator", Answer::kCoordinator},
    {"join", Answer::kJoining},      {"sync", Answer::kSync},
    {"state", Answer::kSyncState},   {"map", Answer::kMap},
    {"take", Answer::kList},         {"phrase", Answer::kPhraseList},
};

std::map<std::string, std::string> recorded_requests() {
  std::map<std::string, std::string> all;
  for (const auto& file : fs::directory_iterator(CHIPFALL_SOURCE_DIR "/tests/vectors/door")) {
    all[file.path().stem().string()] = contents(file.path().string());
  }
  return all;
}

}  // namespace

TEST_CASE("the requests of door format 1 are still understood") {
  const LedgerFolder folder;
  DoorOptions options;
  options.data_folder = folder.file("");
  options.now_ms = [] { return kTestNow_ms; };
  options.random = [](std::span<std::uint8_t> bytes) {
    std::ranges::fill(bytes, std::uint8_t{'*'});  // as the requests name this device
    return true;
  };
  options.open_syncing = syncing_of_library();
  const std::unique_ptr<Door> door = sure(Door::open(std::move(options)));
  const auto requests = recorded_requests();
  REQUIRE(requests.size() >= 42);
  std::uint64_t number = 0;
  for (const auto& recorded : requests) {
    const std::string& name = recorded.first;
    CAPTURE(name);
    proto::Response response;
    REQUIRE(response.ParseFromString(door->call(recorded.second)));
    REQUIRE_MESSAGE(response.mistakes().empty(), response.mistakes(0).message());
    const std::size_t word = name.find('-') + 1;
    CHECK(response.answer_case() == kAnswers.at(name.substr(word, name.find('-', word) - word)));
    CHECK(response.number() == ++number);
  }
}
