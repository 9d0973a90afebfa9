#include <doctest/doctest.h>

#include <algorithm>
#include <numeric>
#include <random>

#include "core/ledger/views.h"
#include "tests/unit/told_entries.h"

using namespace chipfall;

namespace {

std::vector<std::string> in_order(const std::vector<std::string>& sent,
                                  const std::vector<std::size_t>& order) {
  std::vector<std::string> ordered;
  for (const std::size_t index : order) ordered.push_back(sent[index]);
  return ordered;
}

/// Every order of arrival, folded entry by entry, gives what folding all at once gives.
void check_every_order(const Phones& phones) {
  ToldLedger once(phones);
  const std::string dump = sure(once.views().dump());
  const std::string said = answers(once.views());
  ToldLedger told;
  std::vector<std::size_t> order(phones.sent().size());
  std::iota(order.begin(), order.end(), std::size_t{0});
  int orders = 0;
  int different = 0;
  do {
    told.clear();
    for (const std::string& bytes : in_order(phones.sent(), order)) told.receive({bytes});
    ++orders;
    different += sure(told.views().dump()) != dump || answers(told.views()) != said;
  } while (std::next_permutation(order.begin(), order.end()));
  CHECK(orders == 720);
  CHECK(different == 0);
}

template <typename T>
const T& any_of(const std::vector<T>& list, std::mt19937& random) {
  return list[random() % list.size()];
}

/// A few weeks of three phones that know little of each other and whose clocks are wrong.
Phones busy_phones(std::uint32_t seed, int entries) {
  std::mt19937 random(seed);
  const std::vector<std::string> names = {"a", "b", "c"};
  const std::vector<std::string> ids = {"zone:floor", "zone:bench", "empty-bin:pail", "trash"};
  Phones phones;
  phones.set_ahead("b", 365 * kDay_ms);
  std::vector<EntryRef> sessions = {{}, {"nobody", 7}};
  std::vector<EntryRef> outs = {{"a", 1}};
  for (int i = 0; i < entries; ++i) {
    const std::string& phone = any_of(names, random);
    const std::int64_t minute = 3 * i + static_cast<std::int64_t>(random() % 60);
    const std::string& id = any_of(ids, random);
    const EntryRef& session = any_of(sessions, random);
    switch (random() % 14) {
      case 0:
      case 1:
        sessions.push_back(phones.session(phone, minute, {id, "zone:floor", any_of(ids, random)}));
        break;
      case 2:
      case 3:
        phones.done(phone, minute, id, session);
        break;
      case 4:
        phones.passed_on(phone, minute, id, session);
        break;
      case 5:
        phones.not_needed(phone, minute, id, session);
        break;
      case 6:
        phones.reopened(phone, minute, id, session);
        break;
      case 7:
        outs.push_back(phones.out(phone, minute, random() % 2 ? "saw" : "planer"));
        break;
      case 8: {
        const EntryRef seen = any_of(outs, random);
        phones.back(phone, minute, random() % 2 ? "saw" : "planer", seen);
        break;
      }
      case 9:
        phones.emptied(phone, minute, "pail");
        break;
      case 10:
        phones.supply(phone, minute, "glue", random() % 2 == 0);
        break;
      case 11:
        phones.sheet(phone, minute, std::to_string(i));
        break;
      case 12:
        phones.set_ahead(phone,
                         static_cast<std::int64_t>(random() % 1000) * kDay_ms - 500 * kDay_ms);
        break;
      default:
        phones.measured(phone, minute);
    }
  }
  return phones;
}

}  // namespace

TEST_CASE("machines out and back by three phones say the same in every order of arrival") {
  Phones phones;
  const EntryRef first = phones.out("a", 0, "saw", "fence slips");
  const EntryRef second = phones.out("b", 1, "saw", "smells burnt");
  phones.back("c", 2, "saw", first);
  phones.back("a", 3, "saw", second);
  phones.out("b", 3, "saw", "blade dull");
  phones.back("c", 3, "saw", second);
  check_every_order(phones);
}

TEST_CASE("three phones that end one duty differently say the same in every order of arrival") {
  Phones phones;
  const EntryRef session = phones.session("a", 0, {"zone:floor", "zone:bench"});
  phones.done("a", 5, "zone:floor", session);
  phones.passed_on("b", 5, "zone:floor", session);
  phones.reopened("c", 5, "zone:floor", session);
  phones.not_needed("b", 6, "zone:floor", session);
  phones.done("c", 6, "zone:floor", session);
  check_every_order(phones);
}

TEST_CASE("lists of two sessions and of the building say the same in every order of arrival") {
  Phones phones;
  phones.session("a", 0, {"empty-bin:pail"});
  const EntryRef second = phones.session("b", 5, {"empty-bin:pail"});
  phones.passed_on("c", 6, "empty-bin:pail", second);
  phones.done("a", 7, "empty-bin:pail");
  phones.reopened("b", 8, "empty-bin:pail");
  phones.emptied("c", 5, "pail");
  check_every_order(phones);
}

TEST_CASE("a clock measured in the middle corrects the same in every order of arrival") {
  Phones phones;
  const EntryRef session = phones.session("a", 0, {"zone:floor"});
  phones.set_ahead("b", 3 * kDay_ms);
  phones.done("b", 5, "zone:floor", session);
  phones.measured("b", 6);
  phones.set_ahead("b", -kDay_ms);
  phones.note("b", 7, "set by hand");
  phones.measured("b", 8);
  phones.passed_on("b", 9, "trash");
  check_every_order(phones);
}

TEST_CASE("any order, batches and duplicates on any device give the same views byte for byte") {
  const Phones phones = busy_phones(1, 400);
  ToldLedger once(phones);
  const std::string dump = sure(once.views().dump());
  const std::string said = answers(once.views());
  CHECK(std::count(dump.begin(), dump.end(), '\n') > 300);

  std::mt19937 random(2);
  for (int round = 0; round < 12; ++round) {
    ToldLedger told("device " + std::to_string(round));
    std::vector<std::string> sent = phones.sent();
    for (int i = 0; i < 100; ++i) sent.push_back(any_of(phones.sent(), random));
    std::shuffle(sent.begin(), sent.end(), random);
    const std::size_t batch = 1 + random() % 60;
    for (std::size_t i = 0; i < sent.size(); i += batch) {
      const auto end = std::min(i + batch, sent.size());
      told.store_only({sent.begin() + std::ptrdiff_t(i), sent.begin() + std::ptrdiff_t(end)});
      if (round % 3 != 0 && random() % 3 == 0) sure(told.views().catch_up());
    }
    sure(told.views().catch_up());
    CHECK(sure(told.views().dump()) == dump);
    CHECK(answers(told.views()) == said);
    sure(told.views().rebuild());
    CHECK(sure(told.views().dump()) == dump);
  }
}

TEST_CASE("three devices that made their own entries and heard of the others' agree") {
  const std::vector<std::string> names = {"a", "b", "c"};
  LedgerFolder folder;
  std::vector<LedgerStore> stores;
  std::vector<Views> views;
  stores.reserve(3);
  for (const std::string& name : names) stores.push_back(ledger(folder.file(name), name));
  for (LedgerStore& store : stores) views.push_back(views_of(store));

  std::mt19937 random(3);
  for (int i = 0; i < 60; ++i) {
    const std::size_t who = random() % 3;
    proto::Entry entry;
    entry.set_event_utc_ms(at_minute(i));
    auto& duty = random() % 2 ? *entry.mutable_duty_done()->mutable_duty()
                              : *entry.mutable_duty_passed_on()->mutable_duty();
    duty.set_id(random() % 2 ? "trash" : "doors");
    sure(stores[who].append(entry, at_minute(i)));
    if (random() % 4 == 0) {
      const auto other = random() % 3;
      sure(stores[other].add_received(all_bytes(stores[who]), at_minute(i)));
    }
    sure(views[random() % 3].catch_up());
  }
  for (LedgerStore& from : stores) {
    for (LedgerStore& to : stores) sure(to.add_received(all_bytes(from), at_minute(60)));
  }
  for (Views& each : views) sure(each.catch_up());
  CHECK(answers(views[0]).size() > 500);
  CHECK(sure(views[0].dump()) == sure(views[1].dump()));
  CHECK(sure(views[0].dump()) == sure(views[2].dump()));
  CHECK(answers(views[0]) == answers(views[2]));
}
