#pragma once

#include <algorithm>
#include <cstdint>
#include <memory>
#include <string>
#include <utility>

#include "core/door/door.h"
#include "core/door/phrases.h"
#include "tests/unit/ledger_folder.h"
#include "tests/unit/small_shop.h"

/// A door on the small shop, with a clock that tests set.
namespace chipfall::test {

/// The small shop's sheet for the library that comes with the program: the kinds and stocks of the
/// small library travel in the sheet, as a shop's own would.
inline std::string own_sheet() {
  std::string library = small_library_text();
  std::string kinds = library.substr(0, library.find("cleaning_methods"));
  for (std::size_t at; (at = kinds.find("  resets: \"blade-down\"\n")) != std::string::npos;) {
    kinds.erase(at, 23);
  }
  std::string text = small_sheet();
  text.replace(text.find("  resets: \"log\"\n"), 16, "");
  return text + kinds;
}

class OpenDoor {
 public:
  explicit OpenDoor(const std::string& folder, bool must_exist = false) {
    DoorOptions options;
    options.data_folder = folder;
    options.must_exist = must_exist;
    options.now_ms = [now = now_] { return *now; };
    options.random = [](std::span<std::uint8_t> bytes) {
      static std::uint8_t next = 1;
      std::ranges::generate(bytes, [] { return next++; });
      return true;
    };
    options.open_syncing = syncing_of_library();
    door_ = sure(Door::open(std::move(options)));
  }

  proto::Response ask(const proto::Request& request) {
    proto::Response response;
    REQUIRE(response.ParseFromString(door_->call(request.SerializeAsString())));
    for (const proto::Mistake& mistake : response.mistakes()) {
      CHECK_MESSAGE(!phrases_of(mistake.message()).empty(), "no phrase: " << mistake.message());
    }
    for (const proto::HistoryLine& line : response.history().lines()) {
      CHECK_MESSAGE(!phrases_of(line.text()).empty(), "no phrase: " << line.text());
      CHECK_MESSAGE(!phrases_of(line.day()).empty(), "no phrase: " << line.day());
    }
    return response;
  }

  /// The answer without mistakes, or a failed test that shows them.
  proto::Response sure_of(const proto::Request& request) {
    proto::Response response = ask(request);
    REQUIRE_MESSAGE(response.mistakes().empty(), response.mistakes(0).message());
    return response;
  }

  void keep_sheet(const std::string& text = own_sheet()) {
    proto::Request request;
    request.mutable_load_sheet()->mutable_sheet()->set_name("shop");
    request.mutable_load_sheet()->mutable_sheet()->set_content(text);
    request.mutable_load_sheet()->set_keep(true);
    sure_of(request);
  }

  proto::Recorded record(const proto::Record& record) {
    proto::Request request;
    *request.mutable_record() = record;
    return sure_of(request).recorded();
  }

  /// What is wrong with a record: the path and message of the first mistake.
  std::string refused(const proto::Record& record) {
    proto::Request request;
    *request.mutable_record() = record;
    const proto::Response response = ask(request);
    REQUIRE(response.mistakes_size() > 0);
    CHECK(response.answer_case() == proto::Response::ANSWER_NOT_SET);
    return response.mistakes(0).path() + ": " + response.mistakes(0).message();
  }

  proto::Standing standing() {
    proto::Request request;
    request.mutable_standing();
    return sure_of(request).standing();
  }

  proto::History history(std::uint32_t most = 0) {
    proto::Request request;
    request.mutable_history()->set_most(most);
    return sure_of(request).history();
  }

  proto::Exported exported(const proto::ExportRecord& asked = {}) {
    proto::Request request;
    *request.mutable_export_record() = asked;
    return sure_of(request).exported();
  }

  Door& door() { return *door_; }
  void set_now(std::int64_t now_ms) { *now_ = now_ms; }

 private:
  std::shared_ptr<std::int64_t> now_ = std::make_shared<std::int64_t>(kTestNow_ms);
  std::unique_ptr<Door> door_;
};

/// The small session, ended.
inline proto::Record ended_session() {
  proto::Record record;
  proto::SheetText& file = *record.mutable_session()->mutable_session_file();
  file.set_name("session");
  file.set_content(small_session_text());
  return record;
}

inline proto::Record done(const std::string& duty) {
  proto::Record record;
  record.mutable_done()->mutable_duty()->set_id(duty);
  return record;
}

}  // namespace chipfall::test
