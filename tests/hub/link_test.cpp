#include "tests/hub/relay.h"
#include "tests/hub/running_hub.h"

namespace chipfall {
namespace {

TEST_CASE("a code lets one device join, once") {
  const LedgerFolder folder;
  RunningHub hub(folder.file("hub"));
  const JoinCode code = code_for(hub.folder(), hub.port(), proto::ROLE_CLOSER);
  Phone first(folder.file("first")), second(folder.file("second"));
  CHECK(first.join(code) == LinkEnd::kUpToDate);
  CHECK(first.state().place().role == proto::ROLE_CLOSER);
  CHECK(first.state().place().shop_name == "Woodshop");
  CHECK(second.join(code) == LinkEnd::kRefused);
  CHECK(second.refusal() == proto::REFUSAL_CODE_USED);
  CHECK(shop_in(hub.folder())->devices().value().size() == 1);
}

TEST_CASE("wrong codes and codes out of time are told apart") {
  const LedgerFolder folder;
  RunningHub hub(folder.file("hub"));
  Phone phone(folder.file("phone"));
  JoinCode code = code_for(hub.folder(), hub.port(), proto::ROLE_MEMBER, "", -1);
  phone.join(code);
  CHECK(phone.refusal() == proto::REFUSAL_CODE_EXPIRED);
  code.secret = fresh_bytes(kJoinSecretBytes);
  phone.join(code);
  CHECK(phone.refusal() == proto::REFUSAL_CODE_WRONG);
}

TEST_CASE("guessing codes is slowed down, whatever is guessed") {
  const LedgerFolder folder;
  RunningHub hub(folder.file("hub"));
  const JoinCode right = code_for(hub.folder(), hub.port());
  JoinCode wrong = right;
  Phone phone(folder.file("phone"));
  for (int i = 0; i < int(kMostGuesses); ++i) {
    wrong.secret = fresh_bytes(kJoinSecretBytes);
    phone.join(wrong);
    CHECK(phone.refusal() == proto::REFUSAL_CODE_WRONG);
  }
  phone.join(right);
  CHECK(phone.refusal() == proto::REFUSAL_TOO_MANY_TRIES);
}

TEST_CASE("a hub with another key is never taken for the one that was joined") {
  const LedgerFolder folder;
  RunningHub hub(folder.file("hub")), other(folder.file("other"));
  Phone phone(folder.file("phone"));
  REQUIRE(phone.join(code_for(hub.folder(), hub.port())) == LinkEnd::kUpToDate);
  phone.write(1);
  HubAddress address = address_of(hub.folder(), hub.port());
  address.port = other.port();
  CHECK(phone.sync(address) == LinkEnd::kWrongKey);
  CHECK(phone.failure().find("another key") != std::string::npos);
  CHECK(other.counts().received_bytes == 0);
  CHECK(phone.sync(address_of(hub.folder(), hub.port())) == LinkEnd::kUpToDate);
}

TEST_CASE("a joining that fails leaves the membership and the hub of before as they were") {
  const LedgerFolder folder;
  RunningHub hub(folder.file("hub")), other(folder.file("other"));
  Phone phone(folder.file("phone"));
  const JoinCode first = code_for(hub.folder(), hub.port());
  REQUIRE(phone.join(first) == LinkEnd::kUpToDate);
  phone.write(2);
  REQUIRE(phone.sync(*phone.state().hub()) == LinkEnd::kUpToDate);
  const SyncPlace before = phone.state().place();
  const auto as_before = [&](DeviceState& state) {
    CHECK(state.hub()->port == hub.port());
    CHECK(state.hub()->fingerprint == first.fingerprint);
    CHECK(state.place().shop == before.shop);
    CHECK(state.place().credential == before.credential);
    CHECK(state.place().cursor == before.cursor);
    CHECK(state.place().acked == 2);
  };
  JoinCode code = code_for(other.folder(), other.port());
  const std::string right = code.secret;
  code.secret = fresh_bytes(kJoinSecretBytes);
  CHECK(phone.join(code) == LinkEnd::kRefused);
  CHECK(phone.refusal() == proto::REFUSAL_CODE_WRONG);
  as_before(phone.state());
  code.fingerprint = fresh_bytes(kFingerprintBytes);
  CHECK(phone.join(code) == LinkEnd::kWrongKey);
  as_before(phone.state());
  // Also as the file says it, with the joining still open there.
  DeviceState again = sure(DeviceState::open(phone.store(), "", fresh_bytes));
  as_before(again);
  CHECK(again.pending_join()->hub.port == other.port());
  phone.write(1);
  CHECK(phone.sync(*phone.state().hub()) == LinkEnd::kUpToDate);
  CHECK(phone.last().at_hub == 3);
  // And a joining that is answered puts all of it in place.
  code = {"127.0.0.1", other.port(), address_of(other.folder(), other.port()).fingerprint, right};
  CHECK(phone.join(code) == LinkEnd::kUpToDate);
  CHECK(phone.state().hub()->port == other.port());
  CHECK(phone.state().place().credential != before.credential);
  CHECK_FALSE(phone.state().pending_join());
  CHECK(phone.last().at_hub == 3);
  CHECK(entries_of(*shop_in(other.folder())).size() == 3);
}

TEST_CASE("two devices agree through the hub, and see where their entries are") {
  const LedgerFolder folder;
  RunningHub hub(folder.file("hub"));
  Phone one(folder.file("one")), two(folder.file("two"));
  const HubAddress address = address_of(hub.folder(), hub.port());
  one.join(code_for(hub.folder(), hub.port()));
  two.join(code_for(hub.folder(), hub.port()));
  one.write(700);
  two.write(5);
  CHECK(one.sync(address) == LinkEnd::kUpToDate);
  CHECK(one.last().at_hub == 700);
  CHECK(one.last().saved_here == 0);
  CHECK(two.sync(address) == LinkEnd::kUpToDate);
  CHECK(one.sync(address) == LinkEnd::kUpToDate);
  CHECK(one.count() == 705);
  CHECK(all_bytes(one.store()) == all_bytes(two.store()));
  const auto log = entries_of(*shop_in(hub.folder()));
  CHECK(log.size() == 705);
}

TEST_CASE("while connected, what one device records reaches the other at once") {
  const LedgerFolder folder;
  RunningHub hub(folder.file("hub"));
  const HubAddress address = address_of(hub.folder(), hub.port());
  Phone writer(folder.file("writer"));
  writer.join(code_for(hub.folder(), hub.port()));
  const JoinCode code = code_for(hub.folder(), hub.port());
  std::atomic<bool> up{false};
  std::atomic<int> grew{0};
  std::unique_ptr<Link> link;
  std::atomic<Link*> ready{nullptr};
  std::thread reader([&] {
    Phone phone(folder.file("reader"));
    phone.join(code);
    LinkOptions options;
    options.changed = [&](const SyncProgress& progress) {
      up = progress.link == SyncProgress::Link::kUpToDate;
    };
    options.ledger_grew = [&] { ++grew; };
    link = std::make_unique<Link>(phone.machine(), address, options);
    ready = link.get();
    CHECK(sure(link->run()) == LinkEnd::kStopped);
    CHECK(phone.count() == 2);
  });
  CHECK(soon([&] { return up.load(); }));
  writer.write(2);
  writer.sync(address);
  CHECK(soon([&] { return grew > 0; }));
  ready.load()->stop();
  reader.join();
}

TEST_CASE("a revoked device is turned away at once, also in the middle of a connection") {
  const LedgerFolder folder;
  RunningHub hub(folder.file("hub"));
  const HubAddress address = address_of(hub.folder(), hub.port());
  Phone phone(folder.file("phone"));
  phone.join(code_for(hub.folder(), hub.port()));
  std::atomic<bool> up{false};
  LinkOptions options;
  options.changed = [&](const SyncProgress& progress) {
    if (progress.link == SyncProgress::Link::kUpToDate) up = true;
  };
  Link link(phone.machine(), address, options);
  const std::string name = phone.store().device();
  std::thread coordinator([&] {
    CHECK(soon([&] { return up.load(); }));
    CHECK(sure(shop_in(hub.folder())->revoke(name)));
  });
  CHECK(sure(link.run()) == LinkEnd::kRefused);
  coordinator.join();
  CHECK(phone.machine().progress()->refusal->kind() == proto::REFUSAL_REVOKED);
  CHECK(phone.sync(address) == LinkEnd::kRefused);
  CHECK(phone.refusal() == proto::REFUSAL_REVOKED);
}

TEST_CASE("several shops in one hub share nothing") {
  const LedgerFolder folder;
  RunningHub hub(folder.file("hub"));
  const std::string second = sure(hub.folder().add_shop("Pine Lane", {}))->shop();
  CHECK(soon([&] { return hub.lines().find(second) != std::string::npos; }));
  const HubAddress address = address_of(hub.folder(), hub.port());
  Phone otter(folder.file("otter")), pine(folder.file("pine"));
  otter.join(code_for(hub.folder(), hub.port(), proto::ROLE_COORDINATOR, "Woodshop"));
  pine.join(code_for(hub.folder(), hub.port(), proto::ROLE_COORDINATOR, "Pine Lane"));
  otter.write(3, "otter");
  pine.write(4, "pine");
  otter.sync(address);
  pine.sync(address);
  otter.sync(address);
  CHECK(otter.count() == 3);
  CHECK(pine.count() == 4);
  CHECK(shop_in(hub.folder(), "Woodshop")->last_position().value() == 3);
  // A member of one shop is nobody in the other.
  SyncPlace place = otter.state().place();
  place.shop = second;
  sure(otter.state().put_place(place));
  CHECK(otter.sync(address) == LinkEnd::kRefused);
  CHECK(otter.refusal() == proto::REFUSAL_NOT_A_MEMBER);
}

TEST_CASE("a restart of the hub in between costs nobody anything") {
  const LedgerFolder folder;
  Phone phone(folder.file("phone"));
  auto hub = std::make_unique<RunningHub>(folder.file("hub"));
  phone.join(code_for(hub->folder(), hub->port()));
  phone.write(100);
  phone.sync(address_of(hub->folder(), hub->port()));
  hub.reset();
  phone.write(100);
  hub = std::make_unique<RunningHub>(folder.file("hub"));
  CHECK(phone.sync(address_of(hub->folder(), hub->port())) == LinkEnd::kUpToDate);
  CHECK(phone.last().at_hub == 200);
  CHECK(entries_of(*shop_in(hub->folder())).size() == 200);
}

TEST_CASE("wherever the way back is cut, everything arrives once in the end") {
  const LedgerFolder folder;
  RunningHub hub(folder.file("hub"));
  Relay relay(hub.port());
  Phone phone(folder.file("phone")), other(folder.file("other"));
  phone.join(code_for(hub.folder(), hub.port()));
  other.join(code_for(hub.folder(), hub.port()));
  const HubAddress through = address_of(hub.folder(), relay.port());
  phone.write(5);
  REQUIRE(phone.sync(through) == LinkEnd::kUpToDate);
  const long whole = relay.passed();
  int written = 5, lost_answers = 0;
  // An answer is a record of over 30 bytes, so some cuts fall into it, wherever it is.
  constexpr long kStep_bytes = 15;
  for (long bytes = 1; bytes < whole + 40; bytes += kStep_bytes) {
    relay.cut_after(bytes);
    phone.write(1);
    ++written;
    phone.sync(through, nullptr, 1'500);
    const auto held = shop_in(hub.folder())->held(phone.store().device()).value().through;
    if (held > phone.state().place().acked) ++lost_answers;
    CHECK(phone.state().place().acked <= held);
  }
  CHECK(relay.cuts() > 20);
  CHECK(lost_answers > 0);
  relay.cut_after(-1);
  REQUIRE(phone.sync(through) == LinkEnd::kUpToDate);
  CHECK(entries_of(*shop_in(hub.folder())).size() == static_cast<std::size_t>(written));
  CHECK(phone.last().at_hub == written);
  CHECK(other.sync(address_of(hub.folder(), hub.port())) == LinkEnd::kUpToDate);
  CHECK(all_bytes(other.store()) == all_bytes(phone.store()));
}

}  // namespace
}  // namespace chipfall
