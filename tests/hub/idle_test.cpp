#include <doctest/doctest.h>

#include <filesystem>
#include <fstream>

#include "tests/hub/hub_process.h"
#include "tests/hub/plain_tls.h"
#include "tests/tools/hub_load/crowd.h"

/// A crowd that is connected and says nothing.
namespace chipfall {
namespace {

#ifdef CHIPFALL_SANITIZED
constexpr int kIdle = 1'000;  // the sanitizer's own memory would be measured
constexpr bool kMeasured = false;
#else
constexpr int kIdle = 5'000;
constexpr bool kMeasured = true;
#endif

/// What the kernel holds for the process beside its program's own pages.
std::int64_t own_memory_kb(pid_t process) {
  std::ifstream status("/proc/" + std::to_string(process) + "/status");
  for (std::string line; std::getline(status, line);) {
    if (line.starts_with("RssAnon:")) return std::stoll(line.substr(8));
  }
  return 0;
}

TEST_CASE("thousands of idle connections cost bounded memory, and the others are served") {
  // Here one end of each, the hub's process the other.
  const auto allowed = load::allow_open_files(kIdle + 200);
  if (allowed < kIdle + 200) {
    MESSAGE("not tried: only " << allowed << " files may be open here");
    return;
  }
  // Not about disks: writing thousands of members down would take longer than all the rest.
  if (std::filesystem::exists("/dev/shm")) ::setenv("TMPDIR", "/dev/shm", 1);
  const LedgerFolder folder;
  ::unsetenv("TMPDIR");
  const HubFolder hub_folder = sure(HubFolder::open(folder.file("hub"), true));
  std::vector<load::Device> devices;
  for (int i = 0; i < kIdle; ++i) devices.push_back(load::device_with(0, 1));
  load::Crowd crowd(std::move(devices), hub_folder, 2);
  std::vector<std::string> words = serve_words(folder.file("hub"));
  words.insert(words.end(), {"--connections", std::to_string(kIdle + 100)});
  Process hub(words, folder.file("log"));
  const std::uint16_t port = port_of(folder.file("hub"));
  const std::int64_t before_kb = own_memory_kb(hub.id());
  crowd.connect(port);

  Phone phone(folder.file("phone"));
  REQUIRE(phone.join(code_for(hub_folder, port, proto::ROLE_COORDINATOR, "Crowd 0")) ==
          LinkEnd::kUpToDate);
  phone.write(100);
  CHECK(phone.sync(address_of(hub_folder, port)) == LinkEnd::kUpToDate);
  CHECK(phone.state().place().acked == 100);
  CHECK(shop_in(hub_folder, "Crowd 0")->last_position().value() == 100);

  const std::string all_live = "chipfall_hub_live_devices " + std::to_string(kIdle) + "\n";
  CHECK(soon([&] { return has(PlainTls(port).get("/metrics"), all_live); }));
  const std::int64_t each_kb = (own_memory_kb(hub.id()) - before_kb) / kIdle;
  CAPTURE(each_kb);
  // Handshakes of all at once included, before the hub gives back what they have left.
  if (kMeasured) CHECK(each_kb < 60);
  CHECK(soon([&] { return !kMeasured || (own_memory_kb(hub.id()) - before_kb) / kIdle < 40; }));
  CHECK(hub.end(SIGTERM) == 0);
}

}  // namespace
}  // namespace chipfall
