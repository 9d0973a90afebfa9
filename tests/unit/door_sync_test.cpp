#include <doctest/doctest.h>

#include "sync/door_syncing.h"
#include "sync/memory_log.h"
#include "sync/secret.h"
#include "tests/unit/open_door.h"

/// Joining and syncing through the door, against a hub's session in memory: what a shell in another
/// language does, without its socket.

using namespace chipfall;
using namespace chipfall::test;

namespace {

const std::string kHubKey(kFingerprintBytes, 'k');

struct MemoryHub {
  MemoryLog log{"Otter Bend", std::string(16, 'e')};
  GuessLimit guesses;
  HubPlace place;
  std::vector<HubSession*> live;

  MemoryHub() {
    place.find_shop = [this](const std::string& shop) {
      return shop == log.shop() ? &log : nullptr;
    };
    place.find_code = [this](const std::string& hash) {
      return sure(log.join_code(hash)) ? &log : nullptr;
    };
    place.guesses = &guesses;
  }

  std::string code(const std::string& secret = "0123456789", proto::Role role = proto::ROLE_CLOSER,
                   std::int64_t until_ms = kTestNow_ms + 60'000) {
    sure(log.put_join_code({sha256(secret), role, until_ms, ""}));
    return sure(join_code_text({"HUB.LOCAL", 8443, kHubKey, secret}));
  }
};

proto::SyncEvent opened(const std::string& fingerprint = kHubKey) {
  proto::SyncEvent event;
  event.mutable_opened()->set_channel_binding("binding");
  event.mutable_opened()->set_fingerprint(fingerprint);
  return event;
}
proto::SyncEvent message(const std::string& bytes) {
  proto::SyncEvent event;
  event.set_message(bytes);
  return event;
}
proto::SyncEvent passed(bool network_changed = false) {
  proto::SyncEvent event;
  event.mutable_passed()->set_network_changed(network_changed);
  return event;
}
proto::SyncEvent closed() {
  proto::SyncEvent event;
  event.mutable_closed();
  return event;
}

/// A door, and what carries its messages.
class Phone {
 public:
  Phone(MemoryHub& hub, const std::string& folder) : door(folder), hub_(hub) {}

  proto::Response join(const std::string& code, bool begin = true) {
    proto::Request request;
    request.mutable_join()->set_code(code);
    request.mutable_join()->set_begin(begin);
    request.mutable_join()->set_label("test phone");
    return door.ask(request);
  }
  proto::SyncStep step(proto::SyncEvent event) {
    event.set_steady_ms(steady_ms);
    proto::Request request;
    *request.mutable_sync() = std::move(event);
    return door.sure_of(request).sync();
  }
  proto::SyncState state() {
    proto::Request request;
    request.mutable_sync_state();
    return door.sure_of(request).sync_state();
  }

  /// Connects and carries messages until both sides are still.
  proto::SyncStep talk() {
    const Moment now{kTestNow_ms, steady_ms};
    HubSession session(hub_.place, "phone", "binding", std::string(kNonceBytes, '1'), now);
    proto::SyncStep last = step(opened());
    std::vector<std::string> to_hub(last.send().begin(), last.send().end());
    while (!to_hub.empty() && !last.close()) {
      std::vector<std::string> to_phone;
      for (const std::string& bytes : to_hub) take(session, session.receive(bytes, now), to_phone);
      to_hub.clear();
      for (const std::string& bytes : to_phone) {
        last = step(message(bytes));
        to_hub.insert(to_hub.end(), last.send().begin(), last.send().end());
      }
    }
    return last;
  }
  proto::SyncStep talk_and_leave() {
    const proto::SyncStep last = talk();
    step(closed());
    return last;
  }
  void note(const std::string& text) {
    proto::Record record;
    record.mutable_note()->set_text(text);
    door.record(record);
  }

  OpenDoor door;
  std::int64_t steady_ms = 1'000;

 private:
  void take(HubSession& session, const HubActions& actions, std::vector<std::string>& to_phone) {
    to_phone.insert(to_phone.end(), actions.send.begin(), actions.send.end());
    const Moment now{kTestNow_ms, steady_ms};
    for (const Offer& offer : actions.commit) {
      const auto verdicts = sure(hub_.log.commit({&offer, 1}, now.utc_ms));
      take(session, session.stored(offer.ticket, verdicts.front(), now), to_phone);
      take(session, session.log_grew(now), to_phone);
    }
  }

  MemoryHub& hub_;
};

}  // namespace

TEST_CASE("a code tells where it leads before anything is begun, also from within a link") {
  const LedgerFolder folder;
  MemoryHub hub;
  Phone phone(hub, folder.file(""));
  const std::string code = hub.code();
  const std::string plain = phone.join(code, false).SerializeAsString();
  CHECK(phone.join("https://hub.local:8443/#" + code, false).SerializeAsString() == plain);
  std::string escaped = code;
  for (std::size_t at; (at = escaped.find('*')) != std::string::npos;)
    escaped.replace(at, 1, "%2A");
  CHECK(phone.join("chipfall:" + escaped, false).SerializeAsString() == plain);
  const proto::Joining joining = phone.join(code, false).joining();
  CHECK(joining.hub().host() == "HUB.LOCAL");
  CHECK(joining.hub().port() == 8443);
  CHECK(joining.hub().path() == "/sync");
  CHECK(joining.hub().fingerprint() == kHubKey);
  CHECK(joining.hub().fingerprint_text().substr(0, 9) == "6b6b 6b6b");
  CHECK_FALSE(joining.begun());
  CHECK(phone.state().link() == "not joined");
  CHECK_FALSE(phone.state().joining());
  CHECK_FALSE(phone.step(passed()).has_hub());
}

TEST_CASE("a text that is no code is a mistake with its path") {
  const LedgerFolder folder;
  MemoryHub hub;
  Phone phone(hub, folder.file(""));
  for (const std::string wrong : {"", "CF1*", "hello", "https://hub.local/#CF1*HUB*1*2"}) {
    const proto::Response response = phone.join(wrong);
    REQUIRE(response.mistakes_size() == 1);
    CHECK(response.mistakes(0).path() == "code");
    CHECK(response.mistakes(0).message().find("not a whole joining code") != std::string::npos);
  }
}

TEST_CASE("joining, pushing and pulling go through the door as bytes") {
  const LedgerFolder folder;
  std::filesystem::create_directory(folder.file("one"));
  std::filesystem::create_directory(folder.file("two"));
  MemoryHub hub;
  Phone one(hub, folder.file("one")), two(hub, folder.file("two"));
  one.door.keep_sheet();
  one.note("vac hose split \xF0\x9F\x94\xA7");
  CHECK(one.join(hub.code()).joining().begun());
  CHECK(one.state().joining());
  CHECK(one.state().saved_here() == 2);
  const proto::SyncStep before = one.step(passed());
  CHECK(before.connect_in_ms() == 0);
  CHECK(before.hub().port() == 8443);

  proto::SyncStep last = one.talk();
  CHECK(last.state().link() == "up to date");
  CHECK(last.state().shop() == "Otter Bend");
  CHECK(last.state().role() == "closer");
  CHECK_FALSE(last.state().joining());
  CHECK(last.state().saved_here() == 0);
  CHECK(last.state().at_hub() == 2);
  CHECK(last.state().text() == "up to date: 0 saved here, 0 on its way, 2 at the hub");
  CHECK(last.again_in_ms() == kSyncAgain_ms);
  CHECK_FALSE(last.has_connect_in_ms());

  // What is recorded while connected goes out at the next look, and is on its way until the hub
  // says so.
  one.note("second");
  const proto::SyncStep looked = one.step(passed());
  CHECK(looked.send_size() == 1);
  CHECK(looked.state().saved_here() == 1);
  CHECK(looked.state().on_its_way() == 1);
  one.step(closed());
  CHECK(one.state().link() == "offline");
  CHECK(one.state().saved_here() == 1);
  one.talk_and_leave();

  CHECK(two.join(hub.code("abcdefghij")).joining().begun());
  const std::uint64_t changes = two.door.door().changes();
  last = two.talk_and_leave();
  CHECK(two.state().at_hub() == 0);
  CHECK(two.door.history().lines_size() == 3);  // and the sheet came along
  CHECK(two.door.door().changes() > changes);
  CHECK(two.door.history().lines(1).text() == one.door.history().lines(1).text());
}

TEST_CASE(
    "after a failure the door says how long to wait, and not at all when the network changed") {
  const LedgerFolder folder;
  MemoryHub hub;
  Phone phone(hub, folder.file(""));
  phone.join(hub.code());
  phone.talk_and_leave();
  std::int64_t longest = 0;
  for (int i = 0; i < 12; ++i) longest = std::max(longest, phone.step(closed()).connect_in_ms());
  CHECK(longest > 1'000);
  CHECK(longest <= 300'000);
  CHECK_FALSE(phone.step(closed()).has_again_in_ms());
  phone.steady_ms += longest;
  CHECK(phone.step(passed(true)).connect_in_ms() == 0);
  CHECK(phone.step(closed()).connect_in_ms() <= 1'000);
}

TEST_CASE("a refusal has a kind and a sentence, and no time to come back when waiting is no help") {
  const LedgerFolder folder;
  MemoryHub hub;
  Phone phone(hub, folder.file(""));
  phone.join(hub.code("0123456789", proto::ROLE_MEMBER, kTestNow_ms - 1));
  const proto::SyncStep last = phone.talk();
  CHECK(last.close());
  CHECK(last.state().link() == "refused");
  CHECK(last.state().refusal().kind() == "code expired");
  CHECK(last.state().refusal().sentence().size() > 10);
  CHECK_FALSE(last.state().refusal().waiting_helps());
  CHECK_FALSE(phone.step(closed()).has_connect_in_ms());
  CHECK(phone.state().refusal().kind() == "code expired");
  CHECK_FALSE(phone.state().joining());
}

TEST_CASE("nothing is said to a hub with another key, and no code is left for it") {
  const LedgerFolder folder;
  MemoryHub hub;
  Phone phone(hub, folder.file(""));
  phone.join(hub.code());
  const proto::SyncStep other = phone.step(opened(std::string(kFingerprintBytes, 'x')));
  CHECK(other.close());
  CHECK(other.send_size() == 0);
  CHECK_FALSE(other.has_connect_in_ms());
  CHECK(other.state().refusal().kind() == "wrong key");
  CHECK(other.state().link() == "refused");
  CHECK_FALSE(phone.step(closed()).has_connect_in_ms());
  CHECK_FALSE(phone.state().joining());
  // The right one is joined by giving the code once more.
  phone.join(hub.code());
  CHECK(phone.talk().state().link() == "up to date");
}

TEST_CASE("joining another hub leaves the connection to the first, whose shop is named") {
  const LedgerFolder folder;
  MemoryHub first, second;
  Phone phone(first, folder.file(""));
  phone.join(first.code());
  phone.talk();
  const proto::Joining joining = phone.join(second.code("abcdefghij")).joining();
  CHECK(joining.joined_before() == "Otter Bend");
  CHECK(phone.step(passed()).close());
  CHECK(phone.step(message("late")).close());
  CHECK(phone.step(closed()).connect_in_ms() == 0);
}

TEST_CASE("what has no place in a connection is answered, whatever comes") {
  const LedgerFolder folder;
  MemoryHub hub;
  Phone phone(hub, folder.file(""));
  proto::Request request;
  *request.mutable_sync() = opened();
  CHECK(phone.door.ask(request).mistakes(0).message().find("has not joined") != std::string::npos);
  request.mutable_sync()->clear_what();
  CHECK(phone.door.ask(request).mistakes_size() == 1);
  CHECK(phone.step(message("no connection")).close());
  phone.join(hub.code());
  phone.step(opened());
  const proto::SyncStep damaged = phone.step(message("damaged"));
  CHECK(damaged.close());
  CHECK(damaged.state().refusal().kind() == "damaged");
  CHECK(phone.step(closed()).has_connect_in_ms());
}

TEST_CASE("without a folder, chance or syncing the door says what it lacks") {
  const LedgerFolder folder;
  const auto answer = [](Door& door) {
    proto::Request request;
    request.mutable_join()->set_code("CF1*HUB*1*" + std::string(52, '0') + "*" +
                                     std::string(16, '0'));
    request.mutable_join()->set_begin(true);
    proto::Response response;
    REQUIRE(response.ParseFromString(door.call(request.SerializeAsString())));
    REQUIRE(response.mistakes_size() == 1);
    return response.mistakes(0).message();
  };
  OpenDoor nowhere("");
  CHECK(answer(nowhere.door()).find("without a folder") != std::string::npos);
  { const OpenDoor makes_the_ledger(folder.file("")); }
  DoorOptions options;
  options.data_folder = folder.file("");
  options.now_ms = [] { return kTestNow_ms; };
  CHECK(answer(*sure(Door::open(options))) == "this build of the library cannot sync");
  options.open_syncing = syncing_of_library();
  CHECK(answer(*sure(Door::open(options))).find("no random bytes") != std::string::npos);
}

TEST_CASE("the numbers of Saving and of the sync state agree about what is not at the hub") {
  const LedgerFolder folder;
  MemoryHub hub;
  Phone phone(hub, folder.file(""));
  phone.door.keep_sheet();
  phone.note("one");
  phone.join(hub.code());
  phone.talk_and_leave();
  phone.note("two");
  CHECK(phone.state().saved_here() == 1);
  CHECK(phone.state().at_hub() == 2);
  proto::Request request;
  request.mutable_saving();
  CHECK(phone.door.sure_of(request).saving().own_entries() == 3);
}
