#pragma once

#include <doctest/doctest.h>

#include <filesystem>

#include "preview/terminal/door_client.h"
#include "preview/window/demo_shop.h"
#include "preview/window/script.h"
#include "preview/window/set_up.h"

/// Phones on a desk that nobody sees, with the demo shop behind them.
namespace chipfall::window::test {

template <typename T>
T sure(Result<T> result) {
  REQUIRE_MESSAGE(result.has_value(), result.error().front().text());
  if constexpr (!std::is_void_v<T>) return *std::move(result);
}

class DeskUnderTest {
 public:
  /// `past`: with three weeks behind the shop; else it has its sheet alone, which is quicker.
  explicit DeskUnderTest(std::vector<std::string> phones, bool past = false, float text_size = 1)
      : folder_(sure(TemporaryFolder::make())) {
    SetUp asked;
    asked.demo = true;
    asked.past = past;
    asked.at_once = asked.standing = true;
    asked.phones = std::move(phones);
    desk_ = sure(set_up(asked, folder_.path()));
    for (const auto& phone : desk_->phones()) phone->text_size = text_size;
    stage_ = std::make_unique<NoStage>(*desk_);
    settle(*desk_, *stage_);
  }

  Desk& desk() { return *desk_; }
  Stage& stage() { return *stage_; }
  Phone& phone(std::size_t at = 0) { return *desk_->phones()[at]; }
  void settle_all() { settle(*desk_, *stage_); }

  void tap(const std::string& target, std::size_t at = 0) {
    const Result<void> tapped = window::tap(*desk_, *stage_, phone(at), target);
    REQUIRE_MESSAGE(tapped.has_value(), tapped.error().front().message << "; there is:\n"
                                                                       << phone(at).seen.words());
    const auto faults = faults_of(phone(at).seen, desk_->place_of(phone(at)));
    CHECK_MESSAGE(faults.empty(), target << ": " << faults.front());
  }
  bool says(const std::string& words, std::size_t at = 0) { return phone(at).seen.says(words); }

  /// Of the script that goes with the program, with every screen looked at for faults.
  /// `text_size`: whatever the script says; 0: as it says.
  void play_file(const std::string& name, float text_size = 0) {
    const std::string path = std::string(CHIPFALL_SOURCE_DIR "/preview/window/scripts/") + name;
    const auto script = sure(read_script(path, read(path)));
    const Result<void> played =
        play(path, script, *desk_, *stage_, {.pictures = "", .text_size = text_size});
    CHECK_MESSAGE(played.has_value(), played.error().front().text());
  }

  /// Another door on the same ledger, as another program would see it.
  proto::Response ask(const proto::Request& request, std::size_t at = 0) {
    DoorClient door =
        sure(DoorClient::open(phone(at).device->folder(), true, [] { return kDemoEvening_ms; }));
    return sure(door.ask(request));
  }
  proto::Standing standing(std::size_t at = 0) {
    proto::Request request;
    request.mutable_standing();
    return ask(request, at).standing();
  }
  std::vector<proto::HistoryLine> history(std::size_t at = 0) {
    proto::Request request;
    request.mutable_history()->set_most(500);
    const proto::History history = ask(request, at).history();
    return {history.lines().begin(), history.lines().end()};
  }
  int count(const std::string& kind, std::size_t at = 0) {
    int found = 0;
    for (const proto::HistoryLine& line : history(at)) found += line.kind() == kind ? 1 : 0;
    return found;
  }

 private:
  static std::string read(const std::string& path);

  TemporaryFolder folder_;
  std::unique_ptr<Desk> desk_;
  std::unique_ptr<NoStage> stage_;
};

inline std::string DeskUnderTest::read(const std::string& path) {
  std::string text;
  std::FILE* file = std::fopen(path.c_str(), "rb");
  REQUIRE(file != nullptr);
  char piece[4096];
  for (std::size_t n; (n = std::fread(piece, 1, sizeof piece, file)) > 0;) text.append(piece, n);
  std::fclose(file);
  return text;
}

/// What a member enters for a short evening at the table saw.
inline void enter_table_saw(DeskUnderTest& desk, std::size_t at = 0) {
  desk.tap("home/member", at);
  desk.tap("machines/table-saw", at);
  desk.tap("use/stock", at);
  desk.tap("stock/red-oak", at);
  desk.tap("use/done", at);
  desk.tap("machines/next", at);
}

}  // namespace chipfall::window::test
