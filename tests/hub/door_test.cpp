#include "preview/terminal/door_client.h"
#include "preview/terminal/sync_run.h"
#include "tests/hub/relay.h"
#include "tests/hub/running_hub.h"

/// A real hub and real sockets, and on the device's side nothing but the C door: a terminal's
/// `join` and `sync`.

namespace chipfall {
namespace {

struct Terminal {
  Terminal(const LedgerFolder& folder, const std::string& name)
      : options{folder.file(name), "", name, false, folder.file(name + "-state")} {}

  SyncExit join(const JoinCode& code) {
    SyncOptions joining = options;
    joining.code = sure(join_code_text(code));
    return run(joining);
  }
  SyncExit sync() { return run(options); }
  SyncExit run(const SyncOptions& asked) {
    out.str("");
    err.str("");
    return static_cast<SyncExit>(run_sync(asked, out, err));
  }
  DoorClient door() const {
    auto opened = DoorClient::open(options.folder, true);
    REQUIRE(opened);
    return *std::move(opened);
  }
  proto::Response ask(const proto::Request& request) const {
    auto client = door();
    const auto response = client.ask(request);
    REQUIRE_MESSAGE(response, response.error().front().text());
    return *response;
  }
  void keep_sheet(const std::string& text) const {
    proto::Request request;
    request.mutable_load_sheet()->mutable_sheet()->set_content(text);
    request.mutable_load_sheet()->set_keep(true);
    ask(request);
  }
  void note(const std::string& text) const {
    proto::Request request;
    request.mutable_record()->mutable_note()->set_text(text);
    ask(request);
  }
  proto::History history() const {
    proto::Request request;
    request.mutable_history();
    return ask(request).history();
  }
  proto::SyncState state() const {
    proto::Request request;
    request.mutable_sync_state();
    return ask(request).sync_state();
  }

  SyncOptions options;
  std::ostringstream out, err;
};

std::string demo_sheet() {
  return contents(CHIPFALL_SOURCE_DIR "/checklists/otter-bend.textproto");
}

bool has(const std::string& text, const std::string& part) {
  return text.find(part) != std::string::npos;
}

TEST_CASE("through the door, what one device records is on the other's screens") {
  const LedgerFolder folder;
  RunningHub hub(folder.file("hub"));
  Terminal one(folder, "one"), two(folder, "two");
  REQUIRE(one.join(code_for(hub.folder(), hub.port())) == SyncExit::kDone);
  CHECK(has(one.out.str(), "joined \"Woodshop\""));
  one.keep_sheet(demo_sheet());
  one.note("spare hose is behind the lathe");
  CHECK(one.state().saved_here() == 2);
  CHECK(one.state().link() == "offline");
  REQUIRE(one.sync() == SyncExit::kDone);
  CHECK(has(one.out.str(), "up to date: 0 saved here, 0 on its way, 2 at the hub"));
  CHECK(one.state().at_hub() == 2);
  REQUIRE(two.join(code_for(hub.folder(), hub.port())) == SyncExit::kDone);
  REQUIRE(two.history().lines_size() == 2);
  CHECK(has(two.history().lines(0).text(), "spare hose"));
  CHECK(two.state().shop() == "Woodshop");
  CHECK(cf_live_handles() == 0);
}

TEST_CASE("through the door, a used code, a dead hub and another key are told apart") {
  const LedgerFolder folder;
  auto hub = std::make_unique<RunningHub>(folder.file("hub"));
  const RunningHub other(folder.file("other"));
  Terminal one(folder, "one"), two(folder, "two");
  const JoinCode code = code_for(hub->folder(), hub->port());
  REQUIRE(one.join(code) == SyncExit::kDone);
  CHECK(two.join(code) == SyncExit::kMistake);
  CHECK(two.err.str().size() > 10);
  JoinCode wrong_key = code_for(hub->folder(), hub->port());
  wrong_key.port = other.port();
  CHECK(two.join(wrong_key) == SyncExit::kWrongKey);
  CHECK(has(two.err.str(), "another key"));
  CHECK(two.sync() == SyncExit::kMistake);
  CHECK(has(two.err.str(), "has not joined a hub"));
  one.keep_sheet(demo_sheet());
  hub.reset();
  CHECK(one.sync() == SyncExit::kNotYet);
  CHECK(has(one.err.str(), "Nothing is lost"));
  CHECK(one.state().saved_here() == 1);
}

TEST_CASE("through the door, a connection that is cut anywhere costs nothing in the end") {
  const LedgerFolder folder;
  RunningHub hub(folder.file("hub"));
  Relay relay(hub.port());
  Terminal one(folder, "one");
  JoinCode code = code_for(hub.folder(), hub.port());
  code.port = relay.port();  // every connection goes through it
  REQUIRE(one.join(code) == SyncExit::kDone);
  one.keep_sheet(demo_sheet());
  int notes = 0;
  for (long bytes = 50; bytes < 1'500; bytes += 100) {
    relay.cut_after(bytes);
    one.note("note " + std::to_string(++notes));
    one.sync();
  }
  CHECK(relay.cuts() > 5);
  relay.cut_after(-1);
  REQUIRE(one.sync() == SyncExit::kDone);
  CHECK(one.state().at_hub() == notes + 1);
  CHECK(entries_of(*shop_in(hub.folder())).size() == std::size_t(notes) + 1);
}

}  // namespace
}  // namespace chipfall
