#include <google/protobuf/util/json_util.h>

#include <boost/json.hpp>
#include <filesystem>
#include <sstream>

#include "sync/hub_export.h"
#include "tests/hub/busy_phone.h"
#include "tests/hub/hub_process.h"

/// What a shop owns, taken out of the hub.
namespace chipfall {
namespace {

namespace fs = std::filesystem;
namespace json = boost::json;

std::vector<json::object> lines_of(const std::string& path) {
  std::vector<json::object> lines;
  std::istringstream in(contents(path));
  for (std::string line; std::getline(in, line);) lines.push_back(json::parse(line).as_object());
  return lines;
}

std::string text_of(const json::object& line, const char* key) {
  const auto* found = line.if_contains(key);
  return found == nullptr ? std::string() : std::string(found->as_string());
}

/// A hub's shop with these entries of one device.
void put_entries(SqliteHubLog& log, std::vector<proto::Entry> entries) {
  Offer offer;
  offer.device = "device-1";
  for (proto::Entry& entry : entries) {
    entry.set_device(offer.device);
    entry.set_sequence(offer.entries.size() + 1);
    offer.sequences.push_back(entry.sequence());
    offer.entries.push_back(entry.SerializeAsString());
  }
  sure(log.commit(std::span(&offer, 1), kTestNow_ms));
}

TEST_CASE("an export tells each entry, which duty was done, and every revision of the sheet") {
  const LedgerFolder folder;
  const HubFolder hub = sure(HubFolder::open(folder.file("hub"), true));
  std::string id;
  {
    const auto log = sure(hub.add_shop("Otter Bend", {}));
    id = log->shop();
    proto::Entry session, done, sheet, elsewhere, newer = note("from tomorrow");
    auto& owed = *session.mutable_session_ended()->add_owed();
    owed.set_id("zone:planer");
    owed.set_title("Vacuum round the planer");
    auto& duty = *done.mutable_duty_done()->mutable_duty();
    duty.set_id("zone:planer");
    duty.mutable_session()->set_device("device-1");
    duty.mutable_session()->set_sequence(1);
    done.mutable_duty_done()->set_minutes(12.5);
    sheet.mutable_sheet_revision()->set_sheet("name: \"Otter Bend\"\n");
    elsewhere.mutable_sheet_revision()->set_revision("spring");
    newer.GetReflection()->MutableUnknownFields(&newer)->AddVarint(900, 7);
    put_entries(*log, {session, done, sheet, elsewhere, newer});
  }
  const auto told = run_hub({"export", "--data", hub.path(), "--to", folder.file("out")}, folder);
  REQUIRE_MESSAGE(told.exit == 0, told.text);
  CHECK(has(told.text, "\"Otter Bend\": 5 entries, 1 sheet revisions, 0 devices"));
  CHECK(has(told.text, "1 more revisions are named without their text"));
  const std::string shop = folder.file("out") + "/" + id;
  CHECK(contents(shop + "/sheets/00000003.textproto") == "name: \"Otter Bend\"\n");
  const auto lines = lines_of(shop + "/entries.jsonl");
  REQUIRE(lines.size() == 5);
  CHECK(text_of(lines[1], "kind") == "duty_done");
  CHECK(text_of(lines[1], "title") == "Vacuum round the planer");
  CHECK(lines[1].at("entry").at_pointer("/dutyDone/minutes").as_double() == 12.5);
  CHECK_FALSE(lines[1].contains("bytes"));
  CHECK(lines[4].contains("bytes"));  // JSON has no word for field 900
  CHECK((fs::status(folder.file("out")).permissions() & fs::perms::others_all) == fs::perms::none);
  // Nothing is written over, and a wrong shop is named.
  CHECK(run_hub({"export", "--data", hub.path(), "--to", folder.file("out")}, folder).exit == 3);
  CHECK(run_hub({"export", "--data", hub.path(), "--to", folder.file("o"), "--shop", "x"}, folder)
            .exit == 1);
}

TEST_CASE(
    "an export while phones write is the log up to a moment, each entry as it is, and holds no "
    "secret") {
  const LedgerFolder folder;
  const std::string data = folder.file("hub");
  Process hub(serve_words(data), folder.file("log"));
  const std::uint16_t port = port_of(data);
  const HubFolder hub_folder = sure(HubFolder::open(data, false));
  BusyPhone phone(folder.file("phone"), address_of(hub_folder, port));
  REQUIRE(phone.phone().join(code_for(hub_folder, port)) == LinkEnd::kUpToDate);
  const std::string credential = phone.phone().state().place().credential;
  phone.phone().write(100);
  REQUIRE(phone.phone().sync(address_of(hub_folder, port)) == LinkEnd::kUpToDate);
  phone.start();
  const auto told = run_hub({"export", "--data", data, "--to", folder.file("out")}, folder);
  phone.stop();
  REQUIRE_MESSAGE(told.exit == 0, told.text);
  CHECK(hub.end(SIGTERM) == 0);

  const auto log = shop_in(hub_folder);
  const std::string shop = folder.file("out") + "/" + log->shop();
  std::vector<std::string> all;
  sure(log->visit(0, [&](const LoggedEntry& entry) {
    all.emplace_back(entry.bytes);
    return true;
  }));
  const auto lines = lines_of(shop + "/entries.jsonl");
  REQUIRE(lines.size() >= 100);
  REQUIRE(lines.size() <= all.size());
  for (std::size_t i = 0; i < lines.size(); ++i) {
    CHECK(lines[i].at("position").as_int64() == std::int64_t(i + 1));
    proto::Entry entry;
    REQUIRE(
        google::protobuf::util::JsonStringToMessage(json::serialize(lines[i].at("entry")), &entry)
            .ok());
    CHECK(entry.SerializeAsString() == all[i]);
  }
  const std::string secrets[] = {credential, hex_of(credential), verifier_of(credential),
                                 hex_of(verifier_of(credential)), "PRIVATE KEY"};
  int files = 0;
  for (const auto& file : fs::recursive_directory_iterator(folder.file("out"))) {
    if (!file.is_regular_file()) continue;
    ++files;
    const std::string text = contents(file.path());
    for (const std::string& secret : secrets) CHECK_FALSE(has(text, secret));
  }
  CHECK(files == 3);
  const auto devices = json::parse(contents(shop + "/devices.json")).as_array();
  REQUIRE(devices.size() == 1);
  CHECK(text_of(devices[0].as_object(), "device") == hex_of(phone.phone().store().device()));
  CHECK(text_of(devices[0].as_object(), "role") == "coordinator");
}

}  // namespace
}  // namespace chipfall
