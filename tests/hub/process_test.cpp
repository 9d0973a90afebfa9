#include <chrono>
#include <random>
#include <sstream>

#include "preview/terminal/sync_run.h"
#include "sync/hub_copies.h"
#include "sync/join_code.h"
#include "tests/hub/busy_phone.h"
#include "tests/hub/hub_process.h"
#include "tests/hub/plain_tls.h"

namespace chipfall {
namespace {

TEST_CASE("a hub killed at any moment under load has all that it acknowledged, each once") {
  const LedgerFolder folder;
  const std::string data = folder.file("hub");
  auto hub = std::make_unique<Process>(serve_words(data), folder.file("log"));
  const std::uint16_t port = port_of(data);
  const HubFolder hub_folder = sure(HubFolder::open(data, false));
  std::vector<std::unique_ptr<BusyPhone>> phones;
  for (int i = 0; i < 3; ++i) {
    phones.push_back(std::make_unique<BusyPhone>(folder.file("phone" + std::to_string(i)),
                                                 address_of(hub_folder, port)));
    REQUIRE(phones.back()->phone().join(code_for(hub_folder, port)) == LinkEnd::kUpToDate);
  }
  for (auto& phone : phones) phone->start();
  std::mt19937 chance(1);
  for (int round = 0; round < 6; ++round) {
    ::usleep(static_cast<useconds_t>(200'000 + chance() % 400'000));
    CHECK(hub->end(SIGKILL) == -SIGKILL);
    hub = std::make_unique<Process>(serve_words(data, port), folder.file("log"));
    port_of(data);
  }
  for (auto& phone : phones) phone->stop();
  hub->end(SIGKILL);
  const auto log = shop_in(hub_folder);
  sure(log->check());
  const auto held = entries_of(*log);
  std::size_t acknowledged = 0;
  for (auto& phone : phones) {
    LedgerStore& store = phone->phone().store();
    const std::uint64_t acked = phone->phone().state().place().acked;
    acknowledged += acked;
    sure(store.visit_device(store.device(), 0, [&](const StoredEntry& entry) {
      const auto there = held.find({store.device(), entry.order.sequence});
      if (entry.order.sequence <= acked) REQUIRE(there != held.end());
      if (there != held.end()) CHECK(there->second == entry.bytes);
      return true;
    }));
  }
  CHECK(acknowledged > 300);
}

TEST_CASE("SIGTERM under load ends a hub cleanly and soon, with everything acknowledged on disk") {
  const LedgerFolder folder;
  const std::string data = folder.file("hub");
  Process hub(serve_words(data), folder.file("log"));
  const std::uint16_t port = port_of(data);
  const HubFolder hub_folder = sure(HubFolder::open(data, false));
  BusyPhone phone(folder.file("phone"), address_of(hub_folder, port));
  REQUIRE(phone.phone().join(code_for(hub_folder, port)) == LinkEnd::kUpToDate);
  PlainTls idle(port);
  idle.upgrade();
  phone.start();
  ::usleep(700'000);
  const auto began = std::chrono::steady_clock::now();
  CHECK(hub.end(SIGTERM) == 0);
  CHECK(std::chrono::steady_clock::now() - began < std::chrono::seconds(20));
  CHECK(has(idle.read(1'000), "REFUSAL_STOPPING"));
  phone.stop();
  const std::string said = hub.output();
  CHECK(has(said, "event=started version=0.1.0"));
  CHECK(has(said, "event=shop_opened shop="));
  CHECK(has(said, " epoch="));
  CHECK(has(said, "event=stopped"));
  const auto log = shop_in(hub_folder);
  CHECK(sure(log->held(phone.phone().store().device())).through >=
        phone.phone().state().place().acked);
  CHECK(log->wal_bytes() == 0);
}

TEST_CASE("the commands of the hub work while it serves") {
  const LedgerFolder folder;
  const std::string data = folder.file("hub");
  Process hub(serve_words(data), folder.file("log"));
  const std::uint16_t port = port_of(data);
  const auto made =
      run_hub({"join-code", "--data", data, "--role", "closer", "--address", "127.0.0.1"}, folder);
  REQUIRE(made.exit == 0);
  CHECK(has(made.text, "\u2588\u2588\u2588\u2588"));  // the QR code's quiet zone
  const auto begin = made.text.find("CF1*");
  const std::string text = made.text.substr(begin, made.text.find('\n', begin) - begin);
  CHECK(text.size() <= kMostJoinCodeText);
  CHECK(sure(read_join_code(text)).port == port);
  CHECK(has(made.text, "One phone may join"));

  std::ostringstream out, err;
  SyncOptions join;
  join.folder = folder.file("ledger");
  join.installation = folder.file("state");
  join.code = text;
  join.label = "tablet by the door";
  CHECK(run_sync(join, out, err) == 0);
  CHECK(has(out.str(), "joined \"Woodshop\""));
  SyncOptions sync = join;
  sync.code.clear();
  CHECK(run_sync(sync, out, err) == 0);
  CHECK(has(out.str(), "up to date: 0 saved here, 0 on its way, 0 at the hub"));
  CHECK(run_sync(join, out, err) == static_cast<int>(SyncExit::kMistake));  // the code was used

  const auto listed = run_hub({"devices", "--data", data}, folder);
  CHECK(listed.exit == 0);
  CHECK(has(listed.text, "closer"));
  CHECK(has(listed.text, "tablet by the door"));
  CHECK_FALSE(has(hub.output(), "tablet"));  // the hub's log names nobody's device
  const auto backed = run_hub({"backup", "--data", data, "--to", folder.file("copy")}, folder);
  CHECK_MESSAGE(backed.exit == 0, backed.text);
  CHECK(run_hub({"check", "--data", data}, folder).exit == 0);
  CHECK(run_hub({"new-shop", "--data", data, "Pine Lane"}, folder).exit == 0);
  CHECK(run_hub({"join-code", "--data", data}, folder).exit == 1);  // which shop?
  const auto busy = run_hub({"restore", "--data", data, "--from", folder.file("copy")}, folder);
  CHECK(busy.exit == 3);
  CHECK(has(busy.text, "stop it first"));
  CHECK(hub.end(SIGTERM) == 0);
}

TEST_CASE("join codes name the hub as the last serve was told, unless told otherwise") {
  const LedgerFolder folder;
  const std::string data = folder.file("hub");
  const auto host_in_code = [&](std::vector<std::string> more = {}) {
    std::vector<std::string> words = {"join-code", "--data", data, "--no-qr"};
    words.insert(words.end(), more.begin(), more.end());
    const auto made = run_hub(words, folder);
    REQUIRE_MESSAGE(made.exit == 0, made.text);
    return sure(read_join_code(made.text.substr(0, made.text.find('\n'))));
  };
  auto words = serve_words(data);
  words.insert(words.end(), {"--address", "hub.otter-bend.example"});
  std::uint16_t port = 0;
  {
    Process hub(words, folder.file("log"));
    port = port_of(data);
    CHECK(soon([&] { return std::filesystem::exists(data + "/served.conf"); }));
    CHECK(host_in_code().host == "HUB.OTTER-BEND.EXAMPLE");
    CHECK(host_in_code().port == port);
    CHECK(host_in_code({"--address", "10.1.2.3"}).host == "10.1.2.3");
    CHECK(hub.end(SIGTERM) == 0);
  }
  CHECK(host_in_code().host == "HUB.OTTER-BEND.EXAMPLE");
  CHECK(host_in_code().port == port);
  // Another serve, without an address and with another certificate, counts from then on.
  const HubFolder other = sure(HubFolder::open(folder.file("other"), true));
  sure(other.ensure_keys());
  words = serve_words(data);
  words.insert(words.end(), {"--certificate", other.certificate(), "--key", other.key()});
  Process hub(words, folder.file("log"));
  CHECK(soon([&] { return contents(data + "/served.conf").find(".crt") != std::string::npos; }));
  CHECK(host_in_code().host != "HUB.OTTER-BEND.EXAMPLE");
  CHECK(host_in_code().fingerprint == sure(tls::fingerprint_of_file(other.certificate())));
  CHECK(hub.end(SIGTERM) == 0);
}

TEST_CASE("the command line helps, and says what is wrong with the settings") {
  const LedgerFolder folder;
  CHECK(run_hub({"--version"}, folder).text == "chipfall-hub 0.1.0\n");
  const auto help = run_hub({"--help"}, folder);
  CHECK(help.exit == 0);
  CHECK(has(help.text, "Exit codes"));
  CHECK(run_hub({}, folder).exit == 2);
  CHECK(run_hub({"serve", "--prot", "1"}, folder).exit == 2);
  CHECK(run_hub({"serve"}, folder).exit == 2);
  std::ofstream(folder.file("hub.conf")) << "port = 9000\ncolour = blue\n";
  const auto wrong =
      run_hub({"serve", "--config", folder.file("hub.conf"), "--check-config"}, folder);
  CHECK(wrong.exit == 1);
  CHECK(has(wrong.text, "hub.conf:2:1: \"colour\" is no setting"));
  std::ofstream(folder.file("hub.conf")) << "port = 9000\n";
  CHECK(run_hub({"serve", "--config", folder.file("hub.conf"), "--check-config"}, folder).exit ==
        0);
  const auto printed = run_hub(
      {"serve", "--config", folder.file("hub.conf"), "--bind", "127.0.0.1", "--print-config"},
      folder);
  CHECK(has(printed.text, "port = 9000\n"));
  CHECK(has(printed.text, "bind = 127.0.0.1\n"));
  CHECK(run_hub({"devices", "--data", folder.file("nowhere")}, folder).exit == 3);
}

TEST_CASE("after a restore from a backup nothing is lost that a phone still has") {
  const LedgerFolder folder;
  const std::string data = folder.file("hub");
  auto hub = std::make_unique<RunningHub>(data);
  Phone one(folder.file("one")), two(folder.file("two"));
  one.join(code_for(hub->folder(), hub->port()));
  two.join(code_for(hub->folder(), hub->port()));
  one.write(10);
  one.sync(address_of(hub->folder(), hub->port()));
  sure(back_up_hub(hub->folder(), folder.file("copy")));
  one.write(10);
  two.write(7);
  one.sync(address_of(hub->folder(), hub->port()));
  two.sync(address_of(hub->folder(), hub->port()));
  hub.reset();
  CHECK(run_hub({"restore", "--data", data, "--from", folder.file("copy")}, folder).exit == 0);
  hub = std::make_unique<RunningHub>(data);
  const HubAddress address = address_of(hub->folder(), hub->port());
  CHECK(entries_of(*shop_in(hub->folder())).size() == 10);
  CHECK(two.sync(address) == LinkEnd::kUpToDate);
  CHECK(one.sync(address) == LinkEnd::kUpToDate);
  CHECK(two.sync(address) == LinkEnd::kUpToDate);
  CHECK(entries_of(*shop_in(hub->folder())).size() == 27);
  CHECK(all_bytes(one.store()) == all_bytes(two.store()));
}

TEST_CASE("a hub on a full disk acknowledges nothing, stays up, and goes on when there is room") {
  const LedgerFolder folder;
  const std::string disk = folder.file("disk");
  std::filesystem::create_directory(disk);
  // A disk of 40 MB that only this hub sees; from here it is reached through its process.
  Process hub({"unshare", "-rm", "sh", "-c",
               "mount -t tmpfs -o size=40m none \"$0\" && echo $$ > \"$0.pid\" && "
               "exec \"$1\" serve --data \"$0/hub\" --bind 127.0.0.1 --port 0",
               disk, CHIPFALL_HUB},
              folder.file("log"));
  if (!soon([&] { return has(hub.output(), "event=started"); }, 5'000)) {
    MESSAGE("left out: no disk of its own can be mounted here: " << hub.output());
    return;
  }
  std::string pid = contents(disk + ".pid");
  pid.erase(pid.find('\n'));
  const std::string inside = "/proc/" + pid + "/root" + disk;
  const std::uint16_t port = port_of(inside + "/hub");
  const auto beside = [&](std::vector<std::string> words) {
    std::vector<std::string> all = {"nsenter",   "-t", pid, "-U", "-m", "--preserve-credentials",
                                    CHIPFALL_HUB};
    all.insert(all.end(), words.begin(), words.end());
    return run_words(all, folder);
  };
  const std::string data = disk + "/hub";
  const auto made = beside({"join-code", "--data", data, "--no-qr", "--address", "127.0.0.1"});
  REQUIRE_MESSAGE(made.exit == 0, made.text);
  const JoinCode code = sure(read_join_code(made.text.substr(0, made.text.find('\n'))));
  const HubAddress address{code.host, port, code.fingerprint};
  Phone phone(folder.file("phone"));
  REQUIRE(phone.join(code) == LinkEnd::kUpToDate);
  phone.write(1);
  REQUIRE(phone.sync(address) == LinkEnd::kUpToDate);
  {
    std::ofstream ballast(inside + "/ballast", std::ios::binary);
    const std::string block(4096, 'x');
    while (ballast.write(block.data(), 4096).flush()) {
    }
  }
  phone.write(400, std::string(1'000, 'x'));
  CHECK(phone.sync(address) == LinkEnd::kOffline);
  CHECK(phone.refusal() == proto::REFUSAL_BUSY);
  CHECK(phone.last().at_hub < 401);
  CHECK(has(PlainTls(port).get("/healthz"), "503 Service Unavailable"));
  CHECK_FALSE(std::filesystem::exists(inside + "/hub/reserve"));
  // What the reserve gave back is for people: reading and administering still work.
  CHECK(beside({"devices", "--data", data}).exit == 0);
  CHECK(beside({"join-code", "--data", data, "--no-qr"}).exit == 0);
  CHECK(phone.sync(address) == LinkEnd::kOffline);
  std::filesystem::remove(inside + "/ballast");
  CHECK(phone.sync(address) == LinkEnd::kUpToDate);
  CHECK(phone.last().at_hub == 401);
  CHECK(has(PlainTls(port).get("/healthz"), "200 OK"));
  CHECK(std::filesystem::exists(inside + "/hub/reserve"));
  CHECK(hub.end(SIGTERM) == 0);
}

}  // namespace
}  // namespace chipfall
