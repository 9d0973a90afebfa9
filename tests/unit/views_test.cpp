#include "core/ledger/views.h"

#include <algorithm>

#include <doctest/doctest.h>

#include "tests/unit/told_entries.h"

using namespace chipfall;

namespace {

using Lines = std::vector<std::string>;

Lines standing(const Phones& phones) {
  ToldLedger told(phones);
  return in_short(sure(told.views().standing()));
}

}  // namespace

TEST_CASE("what nobody of a session's list ended stands open, in the order of the list") {
  Phones phones;
  const EntryRef session = phones.session("a", 0, {"zone:floor", "zone:bench", "unplug:saw"});
  phones.done("a", 5, "zone:bench", session);
  ToldLedger told(phones);
  const auto duties = sure(told.views().standing());
  CHECK(in_short(duties) == Lines{"zone:floor open", "unplug:saw open"});
  CHECK(duties[0].owed.title() == "zone:floor of a");
  CHECK(duties[0].session == session);
  CHECK(duties[0].since_ms == at_minute(0));
  CHECK_FALSE(duties[0].by.has_value());
}

TEST_CASE("a duty passed on stands with its reason and who passed it on") {
  Phones phones;
  const EntryRef session = phones.session("a", 0, {"zone:floor"});
  const EntryRef ending = phones.passed_on("b", 5, "zone:floor", session, "no tool");
  ToldLedger told(phones);
  const auto duties = sure(told.views().standing());
  REQUIRE(in_short(duties) == Lines{"zone:floor passed on"});
  CHECK(duties[0].reason == "no tool");
  REQUIRE(duties[0].by.has_value());
  CHECK(duties[0].by->entry == ending);
  CHECK(duties[0].by->at_ms == at_minute(5));
  CHECK(duties[0].by->member == "Robin");
}

TEST_CASE("of several endings the latest by clock stands, and reopened is open") {
  Phones phones;
  const EntryRef session = phones.session("a", 0, {"zone:floor", "zone:bench", "zone:top"});
  phones.done("a", 5, "zone:floor", session);
  phones.passed_on("b", 6, "zone:floor", session);
  phones.passed_on("a", 5, "zone:bench", session);
  phones.not_needed("b", 6, "zone:bench", session);
  phones.done("a", 5, "zone:top", session);
  phones.reopened("b", 6, "zone:top", session);
  ToldLedger told(phones);
  CHECK(in_short(sure(told.views().list_of(session))) ==
        Lines{"zone:floor passed on", "zone:bench not needed", "zone:top open"});
  CHECK(in_short(sure(told.views().standing())) == Lines{"zone:floor passed on", "zone:top open"});
  CHECK(sure(told.views().done()).empty());
}

TEST_CASE("at the same clock the greater device's ending stands") {
  Phones phones;
  const EntryRef session = phones.session("a", 0, {"zone:floor"});
  phones.passed_on("c", 5, "zone:floor", session);
  phones.done("b", 5, "zone:floor", session);
  CHECK(standing(phones) == Lines{"zone:floor passed on"});
}

TEST_CASE("an ending whose session is not here stands with its id, and is completed by it") {
  Phones phones;
  const EntryRef session = phones.session("a", 0, {"zone:bench", "zone:floor"});
  const EntryRef ending = phones.passed_on("b", 5, "zone:floor", session);
  ToldLedger told;
  told.receive({phones.sent()[1]});
  auto duties = sure(told.views().standing());
  REQUIRE(in_short(duties) == Lines{"zone:floor passed on"});
  CHECK(duties[0].owed.title().empty());
  CHECK(duties[0].session == session);
  CHECK(duties[0].since_ms == at_minute(5));
  CHECK(in_short(sure(told.views().list_of(session))) == Lines{"zone:floor passed on"});

  told.receive({phones.sent()[0]});
  duties = sure(told.views().standing());
  REQUIRE(in_short(duties) == Lines{"zone:bench open", "zone:floor passed on"});
  CHECK(duties[1].owed.title() == "zone:floor of a");
  CHECK(duties[1].since_ms == at_minute(0));
  CHECK(duties[1].by->entry == ending);
}

TEST_CASE("an ending of a duty that the session did not list comes after its list") {
  Phones phones;
  const EntryRef session = phones.session("a", 0, {"zone:floor"});
  phones.passed_on("a", 5, "extra", session);
  ToldLedger told(phones);
  CHECK(in_short(sure(told.views().list_of(session))) ==
        Lines{"zone:floor open", "extra passed on"});
}

TEST_CASE("a duty that a list names twice is one duty, the first") {
  Phones phones;
  const EntryRef session = phones.session("a", 0, {"zone:floor", "zone:bench", "zone:floor"});
  ToldLedger told(phones);
  CHECK(in_short(sure(told.views().list_of(session))) ==
        Lines{"zone:floor open", "zone:bench open"});
}

TEST_CASE("a duty of the building stands once it is passed on, until it is done") {
  Phones phones;
  phones.done("a", 0, "trash");
  phones.passed_on("a", 1, "heaters");
  phones.passed_on("a", 2, "doors");
  phones.done("b", 3, "doors");
  ToldLedger told(phones);
  const auto duties = sure(told.views().standing());
  REQUIRE(in_short(duties) == Lines{"heaters passed on"});
  CHECK_FALSE(duties[0].session.has_value());
  CHECK(duties[0].since_ms == at_minute(1));
}

TEST_CASE(
    "a duty of the building done every evening counts every evening, but not one taken back") {
  Phones phones;
  const EntryRef monday = phones.done("a", 0, "trash");
  phones.done("a", 24 * 60, "trash");
  phones.reopened("b", 24 * 60 + 5, "trash");
  const EntryRef wednesday = phones.done("a", 48 * 60, "trash");
  ToldLedger told(phones);
  const auto done = sure(told.views().done());
  REQUIRE(done.size() == 2);
  CHECK(done[0].told.entry == monday);
  CHECK(done[1].told.entry == wednesday);
}

TEST_CASE("an open duty is settled when the same one is done after a later session") {
  Phones phones;
  const EntryRef old = phones.session("a", 0, {"zone:floor", "reset:saw", "zone:bench"});
  phones.passed_on("a", 5, "reset:saw", old);
  const EntryRef later = phones.session("b", 21 * 24 * 60, {"zone:floor", "reset:saw"});
  phones.done("b", 21 * 24 * 60 + 10, "zone:floor", later);
  phones.done("b", 21 * 24 * 60 + 12, "reset:saw", later);
  ToldLedger told(phones);
  CHECK(in_short(sure(told.views().standing())) == Lines{"zone:bench open"});
  // The old list still says how it was ended.
  CHECK(in_short(sure(told.views().list_of(old))) ==
        Lines{"zone:floor open", "reset:saw passed on", "zone:bench open"});
}

TEST_CASE("a duty that was done before is not settled by that") {
  Phones phones;
  const EntryRef first = phones.session("b", 0, {"zone:floor"});
  phones.done("b", 5, "zone:floor", first);
  phones.session("a", 30, {"zone:floor"});
  CHECK(standing(phones) == Lines{"zone:floor open"});
}

TEST_CASE("a duty passed on after another crew did it still stands") {
  Phones phones;
  const EntryRef mine = phones.session("a", 0, {"zone:floor"});
  const EntryRef theirs = phones.session("b", 1, {"zone:floor"});
  phones.done("b", 10, "zone:floor", theirs);
  CHECK(standing(phones).empty());
  phones.passed_on("a", 20, "zone:floor", mine);
  CHECK(standing(phones) == Lines{"zone:floor passed on"});
}

TEST_CASE("a later one that was reopened settles nothing") {
  Phones phones;
  phones.session("a", 0, {"zone:floor"});
  const EntryRef later = phones.session("b", 60, {"zone:floor"});
  phones.done("b", 70, "zone:floor", later);
  phones.reopened("b", 80, "zone:floor", later);
  CHECK(standing(phones) == Lines{"zone:floor open", "zone:floor open"});
}

TEST_CASE("a later not needed settles nothing, since it is about one list") {
  Phones phones;
  phones.session("a", 0, {"zone:floor"});
  const EntryRef later = phones.session("b", 60, {"zone:floor"});
  phones.not_needed("b", 70, "zone:floor", later);
  CHECK(standing(phones) == Lines{"zone:floor open"});
}

TEST_CASE("emptying a bin settles the duty to empty it, in a list and of the building") {
  Phones phones;
  phones.session("a", 0, {"empty-bin:pail", "empty-bin:vac"});
  phones.passed_on("a", 1, "empty-bin:pail");
  CHECK(standing(phones) ==
        Lines{"empty-bin:pail open", "empty-bin:vac open", "empty-bin:pail passed on"});
  phones.emptied("b", 5, "pail");
  CHECK(standing(phones) == Lines{"empty-bin:vac open"});
}

TEST_CASE("a duty of the building done in some evening settles older lists, unless taken back") {
  Phones phones;
  phones.session("a", 0, {"zone:floor"});
  phones.done("b", 10, "zone:floor");
  CHECK(standing(phones).empty());
  phones.passed_on("b", 20, "zone:floor");  // another evening
  CHECK(standing(phones) == Lines{"zone:floor passed on"});

  Phones taken_back;
  taken_back.session("a", 0, {"zone:floor"});
  taken_back.done("b", 10, "zone:floor");
  taken_back.emptied("b", 11, "pail");
  taken_back.reopened("b", 12, "zone:floor");
  CHECK(standing(taken_back) == Lines{"zone:floor open", "zone:floor open"});
}

TEST_CASE("standing duties are told oldest first") {
  Phones phones;
  phones.session("b", 100, {"zone:bench", "zone:top"});
  phones.session("a", 50, {"unplug:saw"});
  phones.passed_on("c", 70, "doors");
  CHECK(standing(phones) ==
        Lines{"unplug:saw open", "doors passed on", "zone:bench open", "zone:top open"});
}

TEST_CASE("a machine is out until somebody who saw that very entry says that it is back") {
  Phones phones;
  const EntryRef first = phones.out("a", 0, "saw", "fence slips");
  const EntryRef second = phones.out("b", 10, "saw", "smells burnt");
  phones.back("c", 20, "saw", first);
  ToldLedger told(phones);
  auto notices = sure(told.views().machines_out());
  REQUIRE(notices.size() == 1);
  CHECK(notices[0].machine == "saw");
  CHECK(notices[0].reason == "smells burnt");
  CHECK(notices[0].told.entry == second);
  REQUIRE(notices[0].unseen_backs.size() == 1);
  CHECK(notices[0].unseen_backs[0].entry.device == "c");

  phones.back("c", 30, "saw", second);
  ToldLedger after(phones);
  CHECK(sure(after.views().machines_out()).empty());
}

TEST_CASE("a machine back that came before the latest out is no notice") {
  Phones phones;
  const EntryRef first = phones.out("a", 0, "saw");
  phones.back("b", 10, "saw", first);
  phones.out("a", 20, "saw", "again");
  ToldLedger told(phones);
  const auto notices = sure(told.views().machines_out());
  REQUIRE(notices.size() == 1);
  CHECK(notices[0].reason == "again");
  CHECK(notices[0].unseen_backs.empty());
}

TEST_CASE("a machine back of a slow phone that saw the entry counts, one that saw another's not") {
  Phones phones;
  const EntryRef out = phones.out("a", 0, "saw");
  phones.set_ahead("slow", -kDay_ms);
  phones.back("slow", 10, "saw", out);
  CHECK(sure(ToldLedger(phones).views().machines_out()).empty());

  Phones other;
  const EntryRef of_planer = other.out("a", 0, "planer");
  other.out("a", 1, "saw");
  other.back("b", 10, "saw", of_planer);
  CHECK(sure(ToldLedger(other).views().machines_out()).size() == 2);
}

TEST_CASE("of supplies and the sheet the latest word stands") {
  Phones phones;
  phones.supply("a", 0, "glue", true);
  phones.supply("b", 5, "glue", false);
  phones.supply("b", 1, "bags", true);
  phones.sheet("b", 9, "autumn");
  phones.sheet("a", 3, "summer");
  ToldLedger told(phones);
  const auto supplies = sure(told.views().supplies());
  REQUIRE(supplies.size() == 2);
  CHECK(supplies[0].supply == "bags");
  CHECK(supplies[0].low);
  CHECK(supplies[1].supply == "glue");
  CHECK_FALSE(supplies[1].low);
  const auto sheet = sure(told.views().sheet());
  REQUIRE(sheet.has_value());
  CHECK(sheet->revision.revision() == "autumn");
  CHECK_FALSE(sure(ToldLedger().views().sheet()).has_value());
}

TEST_CASE("bins are told by sightings, emptyings and done duties, in the order of time") {
  Phones phones;
  const EntryRef session = phones.session("a", 0, {"empty-bin:pail"});
  phones.emptied("b", 30, "pail");
  phones.done("a", 10, "empty-bin:pail", session);
  phones.bin_seen("c", 20, "pail", "half");
  ToldLedger told(phones);
  const auto facts = sure(told.views().bins());
  REQUIRE(facts.size() == 3);
  CHECK(facts[0].emptied);
  CHECK(facts[0].bin == "pail");
  CHECK(facts[1].seen == "half");
  CHECK(facts[2].emptied);
  CHECK(sure(told.views().bins(at_minute(20))).size() == 2);
}

TEST_CASE("a done duty is told with what its session listed") {
  Phones phones;
  const EntryRef session = phones.session("a", 0, {"zone:floor"});
  phones.done("b", 10, "zone:floor", session);
  phones.done("b", 11, "trash");
  ToldLedger told(phones);
  const auto done = sure(told.views().done());
  REQUIRE(done.size() == 2);
  REQUIRE(done[0].owed.has_value());
  CHECK(done[0].owed->title() == "zone:floor of a");
  CHECK_FALSE(done[1].owed.has_value());
}

TEST_CASE("entries of a kind that this program does not know are counted and change nothing") {
  Phones phones;
  phones.note("a", 0, "hello");
  phones.tell("a", 1, proto::Entry());
  ToldLedger told(phones);
  CHECK(sure(told.views().unknown_entries()) == 1);
  CHECK(sure(told.views().notes()).size() == 1);
}

TEST_CASE("sessions are told backwards in just the other order, as far as they are asked for") {
  Phones phones;
  for (const int minute : {30, 10, 20, 20}) phones.session("a", minute, {"zone:floor"});
  phones.session("b", 20, {"zone:floor"});
  ToldLedger told(phones);
  std::vector<EntryRef> forwards;
  for (const SessionFact& fact : sure(told.views().sessions())) forwards.push_back(fact.told.entry);
  REQUIRE(forwards.size() == 5);
  std::vector<EntryRef> backwards;
  sure(told.views().sessions_back([&](SessionFact&& fact) {
    backwards.push_back(fact.told.entry);
    return true;
  }));
  std::ranges::reverse(backwards);
  CHECK(backwards == forwards);
  int asked = 0;
  sure(told.views().sessions_back([&](SessionFact&&) { return ++asked < 2; }));
  CHECK(asked == 2);
}

TEST_CASE("one session is found by its name, and nothing that is not one") {
  Phones phones;
  const EntryRef session = phones.session("a", 0, {"zone:floor"});
  const EntryRef done = phones.done("a", 5, "zone:floor", session);
  ToldLedger told(phones);
  const auto found = sure(told.views().session(session));
  REQUIRE(found.has_value());
  CHECK(found->told.at_ms == at_minute(0));
  CHECK(found->ended.owed(0).id() == "zone:floor");
  CHECK_FALSE(sure(told.views().session(done)).has_value());
  CHECK_FALSE(sure(told.views().session({session.device, 999})).has_value());
}
