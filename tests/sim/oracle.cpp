#include <fmt/format.h>

#include <algorithm>

#include "sync/batch.h"
#include "sync/reduce.h"
#include "tests/sim/sure.h"
#include "tests/sim/world.h"

/// What must hold at rest: conservation, no invention, convergence, roles, idempotence. That
/// cursors do not go back and that memory is bounded is watched all the while (World::apply).
namespace chipfall::sim {

std::string World::lineage_of(const std::string& name) {
  const auto record = sure(log_->device(name));
  return record ? record->lineage : "nobody";
}

World::Log World::whole_log() {
  Log log;
  std::map<std::string, std::string, std::less<>> lineages;
  sure(log_->visit(0, [&](const LoggedEntry& entry) {
    const std::string name(entry.device);
    const auto [lineage, is_new] = lineages.try_emplace(name);
    if (is_new) lineage->second = lineage_of(name);
    log[{name, entry.sequence}] = {std::string(entry.bytes), token_of(entry.bytes),
                                   lineage->second};
    return true;
  }));
  return log;
}

/// What a phone holds whole, in its ledger or set aside.
std::set<std::string> World::tokens_of(Phone& phone) {
  std::set<std::string> tokens;
  const auto former = sure(phone.state->former_names());
  sure(phone.store->visit([&](const StoredEntry& stored) {
    // A member's copies of others' entries are not offered again.
    const bool own =
        stored.order.device == phone.state->device() || former.count(stored.order.device) > 0;
    if (own || phone.role != proto::ROLE_MEMBER) tokens.insert(token_of(stored.bytes));
    return true;
  }));
  for (const ParkedEntry& entry : sure(phone.state->parked())) {
    if (!entry.bytes.empty()) tokens.insert(token_of(entry.bytes));
  }
  return tokens;
}

/// Tokens of what phones have parked and show.
std::set<std::string> World::set_aside() {
  std::set<std::string> aside;
  for (const auto& phone : phones_) {
    for (const ParkedEntry& entry : sure(phone->state->parked())) {
      ++reached.parked;
      const auto bytes = entry.bytes.empty()
                             ? sure(phone->store->bytes_of(entry.device, entry.sequence))
                             : std::optional(entry.bytes);
      if (bytes) aside.insert(token_of(*bytes));
    }
  }
  return aside;
}

/// Conservation: what was said to be saved is at the hub or set aside. No invention: whose it is.
/// Each once.
void World::check_tokens(const Log& log, std::string& wrong) {
  const std::set<std::string> aside = set_aside();
  std::map<std::string, int> times;
  for (const auto& [name, entry] : log) {
    if (entry.token.empty()) continue;
    if (++times[entry.token] == 2) wrong += entry.token + " is counted twice; ";
    const auto made_by = made_by_.find(entry.token);
    if (made_by == made_by_.end() || lineage_of(made_by->second) != entry.lineage) {
      wrong += entry.token + " is not of the device that has it; ";
    }
  }
  for (const std::string& token : promised_) {
    if (times.count(token) == 0 && aside.count(token) == 0) wrong += "lost " + token + "; ";
  }
}

/// The ledger that a phone must have: the hub's as its role is sent it, and what it has parked.
World::Entries World::expected_of(Phone& phone, const Log& log) {
  Entries expected;
  const std::string lineage = lineage_of(phone.state->device());
  for (const auto& [name, entry] : log) {
    expected[name] = entry.lineage == lineage ? entry.bytes : reduced_for(phone.role, entry.bytes);
  }
  for (const ParkedEntry& entry : sure(phone.state->parked())) {
    if (!entry.bytes.empty()) continue;  // no longer in the ledger
    const auto bytes = sure(phone.store->bytes_of(entry.device, entry.sequence));
    if (bytes) expected.try_emplace({entry.device, entry.sequence}, *bytes);
  }
  return expected;
}

void World::check_ledger(Phone& phone, const Entries& expected, std::string& wrong) {
  std::size_t here = 0, unknown = 0, different = 0;
  sure(phone.store->visit([&](const StoredEntry& stored) {
    ++here;
    const auto found = expected.find({stored.order.device, stored.order.sequence});
    unknown += found == expected.end();
    different += found != expected.end() && found->second != stored.bytes;
    return true;
  }));
  const std::size_t lacks = expected.size() + unknown - here;
  if (unknown > 0) wrong += fmt::format("a phone has {} entries that the hub lacks; ", unknown);
  if (different > 0) wrong += fmt::format("{} entries are not what the role is sent; ", different);
  if (lacks > 0) wrong += fmt::format("a phone lacks {} of {} entries; ", lacks, expected.size());
  sure(phone.store->check());
}

/// The views of these entries, folded from nothing.
std::string World::dump_of(const Entries& entries) {
  LedgerOptions options;
  options.device = "nobody";
  LedgerStore store =
      sure(LedgerStore::open(fmt::format("{}/fresh-{}", folder_, files_++), options));
  std::vector<std::string> some;
  for (const auto& [name, bytes] : entries) {
    some.push_back(bytes);
    if (some.size() < kMostEntriesAtOnce) continue;
    sure(store.add_received(some, hub_now().utc_ms));
    some.clear();
  }
  sure(store.add_received(some, hub_now().utc_ms));
  Views views = sure(Views::open(store));
  return sure(views.dump());
}

std::string World::check() {
  std::string wrong = wrong_;
  const Log log = whole_log();
  check_tokens(log, wrong);
  for (const auto& [name, entry] : log) {
    proto::Entry read;
    read.ParseFromArray(entry.bytes.data(), int(entry.bytes.size()));
    reached.clock_measured += read.has_clock_measured();
  }
  std::vector<std::pair<Entries, std::string>> folded;  // most phones expect the same
  for (const auto& phone : phones_) {
    Entries expected = expected_of(*phone, log);
    check_ledger(*phone, expected, wrong);
    auto known = std::find_if(folded.begin(), folded.end(),
                              [&](const auto& one) { return one.first == expected; });
    if (known == folded.end()) {
      std::string dump = dump_of(expected);
      known = folded.insert(folded.end(), {std::move(expected), std::move(dump)});
    }
    look(*phone);
    if (sure(phone->views->dump()) != known->second) {
      wrong += "a phone's views are not those of its entries; ";
    }
  }
  return wrong;
}

std::string World::check_again() {
  Phone& phone = *phones_[below(std::uint32_t(phones_.size()))];
  // Clocks that have jumped since the last time are measured at the next connection.
  for (const auto& each : phones_) cut(*each);
  if (!heal()) return "not at rest after a cut; ";
  look(phone);
  const std::uint64_t last = sure(log_->last_position());
  const std::string dump = sure(phone.views->dump());
  // A part of the log once more.
  const Entries expected = expected_of(phone, whole_log());
  std::vector<std::string> page;
  std::size_t changed = 0;
  const std::size_t part = below(std::uint32_t(last) + 1);
  sure(log_->visit(0, [&](const LoggedEntry& entry) {
    page.push_back(expected.at({std::string(entry.device), entry.sequence}));
    if (page.size() == kMostBatchEntries || entry.position >= part) {
      const SyncPlace place = phone.state->place();
      const Taken taken =
          sure(phone.state->take_page(page, place.cursor, place.hub_last, phone_now(phone).utc_ms));
      changed += taken.added + taken.replaced;
      page.clear();
    }
    return entry.position < part;
  }));
  // And everything own once more, as after an acknowledgement that was lost.
  SyncPlace place = phone.state->place();
  place.acked = 0;
  sure(phone.state->put_place(place));
  phone.last_device.clear();
  cut(phone);
  if (!heal()) return "not at rest after a repetition; ";
  std::string wrong = wrong_;
  if (changed > 0) wrong += fmt::format("{} entries counted again; ", changed);
  if (sure(log_->last_position()) != last) wrong += "the hub's log grew by a repetition; ";
  look(phone);
  if (sure(phone.views->dump()) != dump) wrong += "views changed by a repetition; ";
  return wrong;
}

}  // namespace chipfall::sim
