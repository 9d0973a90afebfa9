#include <cstdlib>

#include "tests/hub/cutting_relay.h"
#include "tests/hub/hub_process.h"

namespace chipfall {
namespace {

constexpr int kDevices = 50;
constexpr int kParts = 10;  // each device records its entries in so many steps
constexpr useconds_t kBetweenParts_us = 300'000;  // so that they fall before and after the kills
constexpr int kKills = 6;
constexpr long kMostBytesBeforeCut = 30'000;

/// Entries of each device: 1,000 in a Release build (30 s of a processor, since each of the fifty
/// takes all 50,000), fewer where that would take minutes; CHIPFALL_END_TO_END_ENTRIES says another
/// number.
int entries_each() {
  const char* asked = std::getenv("CHIPFALL_END_TO_END_ENTRIES");
  if (asked != nullptr && std::atoi(asked) >= kParts) return std::atoi(asked) / kParts * kParts;
#ifdef CHIPFALL_SANITIZED
  return 20;
#elif defined(NDEBUG)
  return 1'000;
#else
  return 200;
#endif
}

using Entries = std::map<std::pair<std::string, std::uint64_t>, std::string>;

Entries entries_in(LedgerStore& store) {
  Entries all;
  sure(store.visit([&](const StoredEntry& entry) {
    all.emplace(std::pair(std::string(entry.order.device), entry.order.sequence), entry.bytes);
    return true;
  }));
  return all;
}

/// Does `work` for each phone, all at once.
void for_all(std::vector<std::unique_ptr<Phone>>& phones, const std::function<void(Phone&)>& work) {
  std::vector<std::thread> threads;
  for (auto& phone : phones) threads.emplace_back([&work, &phone] { work(*phone); });
  for (std::thread& thread : threads) thread.join();
}

TEST_CASE(
    "fifty devices, a hub killed each second and a network that cuts: nothing acknowledged is "
    "lost, none twice") {
  const LedgerFolder folder;
  const std::string data = folder.file("hub");
  auto hub = std::make_unique<Process>(serve_words(data), folder.file("log"));
  const std::uint16_t port = port_of(data);
  const HubFolder hub_folder = sure(HubFolder::open(data, false));
  std::vector<std::unique_ptr<Phone>> phones;
  for (int i = 0; i < kDevices; ++i) {
    phones.push_back(std::make_unique<Phone>(folder.file("phone" + std::to_string(i))));
    REQUIRE(phones.back()->join(code_for(hub_folder, port)) == LinkEnd::kUpToDate);
  }
  const int each = entries_each();
  CuttingRelay relay(port, 7, kMostBytesBeforeCut);
  const HubAddress through = address_of(hub_folder, relay.port());

  std::atomic<bool> calm{false};
  std::thread trouble([&] {
    std::mt19937 chance(7);
    for (int kill = 0; kill < kKills; ++kill) {
      ::usleep(static_cast<useconds_t>(600'000 + chance() % 800'000));
      CHECK(hub->end(SIGKILL) == -SIGKILL);
      hub = std::make_unique<Process>(serve_words(data, port), folder.file("log"));
      port_of(data);
    }
    // Where all is slow, the kills are over before the network has cut enough.
    for (int wait = 0; wait < 600 && relay.cuts() < kDevices; ++wait) ::usleep(100'000);
    calm = true;
  });
  for_all(phones, [&](Phone& phone) {
    for (int part = 0; part < kParts; ++part) {
      phone.write(each / kParts);
      phone.sync(through, nullptr, 2'000);
      ::usleep(kBetweenParts_us);
    }
    while (!calm) {
      phone.sync(through, nullptr, 2'000);
      ::usleep(50'000);
    }
  });
  trouble.join();
  hub->end(SIGKILL);

  // What is on the disk of the hub that was killed last.
  std::size_t acknowledged = 0;
  {
    const auto log = shop_in(hub_folder);
    sure(log->check());
    const Entries held = entries_of(*log);  // which fails on an entry that is there twice
    for (auto& phone : phones) {
      const std::string& name = phone->store().device();
      const std::uint64_t acked = phone->state().place().acked;
      acknowledged += acked;
      for (std::uint64_t sequence = 1; sequence <= acked; ++sequence) {
        const auto there = held.find({name, sequence});
        REQUIRE(there != held.end());
        REQUIRE(there->second == *sure(phone->store().bytes_of(name, sequence)));
      }
    }
  }
  CHECK(acknowledged > std::size_t(each));
  CHECK(relay.cuts() >= kDevices);

  // Once the network is whole and the hub stays up, all agree.
  relay.heal();
  hub = std::make_unique<Process>(serve_words(data, port), folder.file("log"));
  port_of(data);
  const std::size_t all = std::size_t(kDevices) * std::size_t(each);
  const auto settle = [&](Phone& phone) {
    for (int tries = 0; tries < 20 && phone.store().counts()->entries != std::int64_t(all); ++tries)
      phone.sync(through);
  };
  for_all(phones, [&](Phone& phone) {
    for (int tries = 0; tries < 20 && phone.sync(through) != LinkEnd::kUpToDate; ++tries) {
    }
  });
  for_all(phones, settle);
  CHECK(hub->end(SIGTERM) == 0);
  const Entries held = entries_of(*shop_in(hub_folder));
  CHECK(held.size() == all);
  for (auto& phone : phones) {
    CHECK(phone->last().at_hub == each);
    CHECK(phone->last().parked == 0);
    CHECK(entries_in(phone->store()) == held);
  }
  MESSAGE(kDevices << " devices with " << each << " entries each, " << kKills + 1 << " kills, "
                   << relay.cuts() << " cuts, " << acknowledged << " acknowledged before the last");
}

}  // namespace
}  // namespace chipfall
