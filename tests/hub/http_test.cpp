#include <netinet/in.h>

#include <boost/regex.hpp>  // std::regex warns falsely under the sanitizers

#include "tests/hub/plain_tls.h"
#include "tests/hub/running_hub.h"

namespace chipfall {
namespace {

TEST_CASE("a hub says that it is well, and what it counts, in the form that Prometheus reads") {
  const LedgerFolder folder;
  RunningHub hub(folder.file("hub"));
  CHECK(has(PlainTls(hub.port()).get("/healthz"), "200 OK"));
  const std::string answer = PlainTls(hub.port()).get("/metrics");
  CHECK(has(answer, "text/plain; version=0.0.4"));
  const std::string body = answer.substr(answer.find("\r\n\r\n") + 4);
  const boost::regex sample(R"(chipfall_hub_[a-z_]+(\{[a-z]+="[^"]*"\})? -?[0-9.e+-]+)");
  const boost::regex comment(R"(# (HELP|TYPE) chipfall_hub_[a-z_]+ .+)");
  std::istringstream lines(body);
  int samples = 0;
  for (std::string line; std::getline(lines, line);) {
    const bool is_sample = boost::regex_match(line, sample);
    samples += is_sample ? 1 : 0;
    CHECK_MESSAGE((is_sample || boost::regex_match(line, comment)), line);
  }
  CHECK(samples > 40);
  CHECK(has(body, "chipfall_hub_connections 1\n"));
  CHECK(has(body, "# TYPE chipfall_hub_commit_duration_seconds histogram"));
}

TEST_CASE("what else is asked of a hub gets a plain no") {
  const LedgerFolder folder;
  RunningHub hub(folder.file("hub"));
  CHECK(has(PlainTls(hub.port()).get("/"), "404 Not Found"));
  CHECK(has(PlainTls(hub.port()).get("/sync"), "426 Upgrade Required"));
  PlainTls post(hub.port());
  post.send("DELETE /healthz HTTP/1.1\r\nHost: hub\r\n\r\n");
  CHECK(has(post.read(), "405 Method Not Allowed"));
  PlainTls garbage(hub.port());
  garbage.send("\x16\x03 what is this\r\n\r\n");
  CHECK_FALSE(has(garbage.read(500), "200 OK"));
  PlainTls huge(hub.port());
  CHECK_FALSE(has(huge.get("/healthz", "X: " + std::string(20'000, 'x') + "\r\n"), "200 OK"));
  CHECK(has(PlainTls(hub.port()).get("/healthz"), "200 OK"));
}

TEST_CASE("TLS older than 1.3 is not spoken, nor plain text") {
  const LedgerFolder folder;
  RunningHub hub(folder.file("hub"));
  CHECK_FALSE(PlainTls(hub.port(), TLS1_2_VERSION).connected());
  CHECK(soon([&] { return hub.counts().failed_handshakes == 1; }));
}

TEST_CASE("a web page of another origin may not connect, one that is named may") {
  const LedgerFolder folder;
  HubServerOptions options;
  options.settings.origins = {"https://otter-bend.example"};
  RunningHub hub(folder.file("hub"), options);
  CHECK(
      has(PlainTls(hub.port()).upgrade("Origin: https://elsewhere.example\r\n"), "403 Forbidden"));
  CHECK(
      has(PlainTls(hub.port()).upgrade("Origin: https://otter-bend.example\r\n"), "101 Switching"));
  CHECK(has(PlainTls(hub.port()).upgrade("Origin: https://hub\r\n"), "101 Switching"));
  CHECK(has(PlainTls(hub.port()).upgrade(), "101 Switching"));
  CHECK(hub.counts().turned_away_origin == 1);
}

TEST_CASE("bad frames end their own connection with a reason and disturb nobody else") {
  const LedgerFolder folder;
  RunningHub hub(folder.file("hub"));
  Phone phone(folder.file("phone"));
  REQUIRE(phone.join(code_for(hub.folder(), hub.port())) == LinkEnd::kUpToDate);
  proto::Frame push;
  push.mutable_push()->set_number(1);
  const std::pair<std::string, char> bad[] = {{"garbage that is no frame", '\x82'},
                                              {"", '\x82'},
                                              {"text", '\x81'},
                                              {std::string(200'000, 'x'), '\x82'},
                                              {encode_frame(push), '\x82'}};
  for (const auto& sent : bad) {
    PlainTls client(hub.port());
    client.upgrade();
    client.frame(sent.first, sent.second);
    const std::string answer = client.read(700);
    // A close frame with a code, or a refusal before it; then the end.
    CHECK_MESSAGE(has(answer, "\x88"), sent.first.substr(0, 30));
  }
  CHECK(hub.counts().refusals[proto::REFUSAL_DAMAGED] == 2);
  CHECK(hub.counts().refusals[proto::REFUSAL_OUT_OF_ORDER] == 1);
  phone.write(3);
  CHECK(phone.sync(address_of(hub.folder(), hub.port())) == LinkEnd::kUpToDate);
  CHECK(shop_in(hub.folder())->last_position().value() == 3);
}

TEST_CASE("whoever opens a connection and does not get on with it is let go, others served") {
  const LedgerFolder folder;
  HubServerOptions options;
  options.opening_ms = 300;
  RunningHub hub(folder.file("hub"), options);
  sockaddr_in address{};
  address.sin_family = AF_INET;
  address.sin_port = htons(hub.port());
  address.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
  // Nothing at all, and the beginning of a TLS record whose rest never comes.
  std::vector<int> sockets;
  for (const std::string& said : {std::string(), std::string("\x16\x03\x01\x02\x00\x01", 6)}) {
    const int silent = ::socket(AF_INET, SOCK_STREAM, 0);
    REQUIRE(::connect(silent, reinterpret_cast<const sockaddr*>(&address), sizeof address) == 0);
    CHECK(::send(silent, said.data(), said.size(), 0) == static_cast<ssize_t>(said.size()));
    sockets.push_back(silent);
  }
  // And one that has done TLS and sends its request a little at a time.
  PlainTls slow(hub.port());
  slow.send("GET /heal");
  CHECK(soon([&] { return hub.counts().connections == 3; }));
  CHECK(has(PlainTls(hub.port()).get("/healthz"), "200 OK"));
  CHECK(soon([&] { return hub.counts().connections == 0; }));
  for (const int silent : sockets) ::close(silent);
}

TEST_CASE("a WebSocket connection that says nothing is let go with a reason") {
  const LedgerFolder folder;
  std::atomic<std::int64_t> later_ms{0};
  HubServerOptions options;
  options.tick_ms = 20;
  options.now = [&] {
    Moment now = moment_now();
    now.steady_ms += later_ms;
    return now;
  };
  RunningHub hub(folder.file("hub"), options);
  PlainTls silent(hub.port());
  silent.upgrade();
  CHECK(soon([&] { return hub.counts().connections == 1; }));
  later_ms = kMostHandshake_ms + 1'000;
  const std::string goodbye = silent.read(700);
  CHECK(has(goodbye, "REFUSAL_SILENT"));
  CHECK(hub.counts().refusals[proto::REFUSAL_SILENT] == 1);
}

TEST_CASE("over its number of connections a hub says that it is busy, then nothing") {
  const LedgerFolder folder;
  HubServerOptions options;
  options.settings.connections = 2;
  RunningHub hub(folder.file("hub"), options);
  std::vector<std::unique_ptr<PlainTls>> held;
  for (int i = 0; i < 2; ++i) {
    held.push_back(std::make_unique<PlainTls>(hub.port()));
    held.back()->upgrade();
  }
  {
    PlainTls third(hub.port());
    const std::string answer = third.upgrade() + third.read(500);
    CHECK(has(answer, "REFUSAL_BUSY"));
  }
  for (int i = 0; i < kToldBusy + 2; ++i) held.push_back(std::make_unique<PlainTls>(hub.port()));
  CHECK(soon([&] { return hub.counts().turned_away_full > kToldBusy; }));
  held.clear();
  CHECK(soon([&] { return hub.counts().connections == 0; }));
  CHECK(has(PlainTls(hub.port()).get("/healthz"), "200 OK"));
}

TEST_CASE("a client that asks and never reads is held up and costs the hub a bounded queue") {
  const LedgerFolder folder;
  RunningHub hub(folder.file("hub"));
  PlainTls client(hub.port());
  client.give_up_after_a_second();
  client.upgrade();
  proto::Frame ping;
  ping.mutable_ping()->set_sent_utc_ms(kTestNow_ms);
  const std::string frame = encode_frame(ping);
  constexpr int kMostPings = 2'000'000;
  int sent = 0;
  while (sent < kMostPings && client.frame(frame)) ++sent;
  CHECK(sent < kMostPings);
  const std::int64_t queued = hub.counts().queued_bytes;
  CAPTURE(sent);
  CAPTURE(hub.counts().connections.load());
  CAPTURE(hub.counts().slow.load());
  CAPTURE(hub.counts().received_bytes.load());
  CHECK(queued > static_cast<std::int64_t>(kPauseReadingAt_bytes));
  CHECK(queued <= static_cast<std::int64_t>(kMostQueuedBytes));
  CHECK(has(PlainTls(hub.port()).get("/healthz"), "200 OK"));
}

TEST_CASE("the journal has one line for each event and leaves out repeats, which it counts") {
  std::string text;
  std::int64_t now = 1'780'000'000'000;
  HubJournal journal([&](const std::string& line) { text += line; }, [&] { return now; });
  journal.info("started", {{"version", "1"}, {"why", "a \"quoted\"\nword"}});
  CHECK(text ==
        "time=2026-05-28T20:26:40.000Z level=info event=started version=1 "
        "why=\"a \\\"quoted\\\" word\"\n");
  text.clear();
  for (int i = 0; i < kMostLinesOfEvent + 5; ++i) journal.warning("again");
  CHECK(std::count(text.begin(), text.end(), '\n') == kMostLinesOfEvent);
  now += kJournalPeriod_ms;
  journal.warning("again");
  CHECK(has(text, "event=again left_out=5\n"));
}

TEST_CASE("settings are read with every mistake and its line") {
  HubSettings settings;
  CHECK(read_hub_settings("# ours\nport = 9000\n\n  address=hub.lan \r\n", "hub.conf", settings));
  CHECK(settings.port == 9000);
  CHECK(settings.address == "hub.lan");
  const auto read = read_hub_settings("port = 90000\nprot = 1\nhello\nmetrics-for-all = maybe\n",
                                      "hub.conf", settings);
  REQUIRE_FALSE(read.has_value());
  REQUIRE(read.error().size() == 4);
  CHECK(read.error()[0].text() ==
        "hub.conf:1:1: port: \"90000\" will not do; give a number from 0 to 65535");
  CHECK(read.error()[1].text().starts_with(
      "hub.conf:2:1: \"prot\" is no setting; one of bind, port"));
  HubSettings again;
  CHECK(read_hub_settings(hub_settings_text(settings), "printed", again));
  CHECK(hub_settings_text(again) == hub_settings_text(settings));
}

}  // namespace
}  // namespace chipfall
