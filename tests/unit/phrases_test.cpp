#include "core/door/phrases.h"

#include <doctest/doctest.h>

#include <map>
#include <set>

#include "core/shop/local_time.h"
#include "preview/terminal/retelling.h"
#include "tests/unit/open_door.h"

using namespace chipfall;
using namespace chipfall::test;

namespace {

/// The ids of a text's phrases, with the arguments of the first.
std::string ids_of(const std::string& text) {
  std::string out;
  for (const proto::Phrase& phrase : phrases_of(text)) {
    if (!out.empty()) out += " ";
    out += phrase.id();
    for (const proto::PhraseArgument& argument : phrase.arguments()) {
      out.append("|").append(argument.name()).append("=").append(argument.text());
    }
  }
  return out;
}

/// All that the demo shop's evenings make the core say: texts by the field that shows them.
class Evenings {
 public:
  Evenings() : door_(folder_.file("")) {
    door_.keep_sheet(contents(CHIPFALL_SOURCE_DIR "/checklists/otter-bend.textproto"));
    std::vector<std::string> files;
    for (const auto& file :
         std::filesystem::directory_iterator(CHIPFALL_SOURCE_DIR "/checklists/sessions")) {
      files.push_back(file.path().string());
    }
    std::ranges::sort(files);
    std::int64_t now_ms = kTestNow_ms;
    for (int day = 0; day < 8; ++day) {
      for (std::size_t i = 0; i < files.size(); ++i, now_ms += 7'200'000) {
        door_.set_now(now_ms);
        const bool short_of_time = (i + std::size_t(day)) % 3 == 0;
        evening(contents(files[i]), short_of_time ? 6 + day : 0);
      }
      look(day);
    }
  }

  void each(const std::function<void(const std::string& field, const std::string& text)>& take) {
    for (const auto& [field, text] : texts_) take(field, text);
  }
  std::size_t size() const { return texts_.size(); }
  OpenDoor& door() { return door_; }

 private:
  template <typename List>
  void add_all(const char* field, const List& list) {
    for (const std::string& text : list) add(field, text);
  }
  void add(const char* field, const std::string& text) {
    if (!text.empty()) texts_.emplace(field, text);
  }
  template <typename Duty>
  void add_duty(const Duty& duty) {
    add("title", duty.title());
    add("why", duty.why());
    add("caution", duty.caution());
    add_all("step", duty.steps());
  }
  template <typename Answer>
  void add_list(const Answer& list) {
    for (const auto& duty : list.duties()) add_duty(duty);
    for (const proto::PassedOn& passed : list.passed_on()) add("reason", passed.reason());
    add_all("caution", list.cautions());
    add_all("note", list.notes());
    add("sharing", list.sharing());
  }

  void evening(const std::string& session, int within_minutes) {
    proto::Record record;
    record.mutable_session()->mutable_session_file()->set_content(session);
    record.mutable_session()->mutable_draft()->set_oily_rags(within_minutes == 8);
    if (within_minutes > 0) record.mutable_session()->set_within_minutes(within_minutes);
    const proto::WindDown list = door_.record(record).list();
    add_list(list);
    for (int i = 0; i < list.duties_size(); i += 3) {
      if (!list.duties(i).passed_on()) door_.record(done(list.duties(i).id()));
    }
  }

  void look(int day) {
    proto::Request request;
    request.mutable_lock_up();
    if (day % 2 == 1) request.mutable_lock_up()->set_within_minutes(10);
    const proto::LockUp lock_up = door_.sure_of(request).lock_up();
    add_list(lock_up);
    for (const proto::SignOff& check : lock_up.sign_off()) add("if not", check.if_not());
    request.mutable_coordinator()->set_next_round_days(7);
    const proto::Coordinator told = door_.sure_of(request).coordinator();
    for (const proto::BinOutlook& bin : told.bins().bins()) {
      add("forecast", bin.forecast());
      add("evidence", bin.evidence());
      add("pace", bin.pace());
      if (day % 4 != 1) continue;
      proto::Record seen;
      seen.mutable_bin_seen()->set_bin(bin.id());
      seen.mutable_bin_seen()->set_seen(day == 1 ? "half" : day == 5 ? "full" : "room");
      door_.record(seen);
    }
    for (const proto::RoundStop& stop : told.round().stops()) {
      add("round", stop.why());
      add_all("round", stop.cautions());
    }
    add_all("round", told.round().cautions());
    for (const proto::RoundLook& stop : told.round().looks()) add("round", stop.why());
    for (const proto::SupplyNotice& supply : told.supplies()) add("supply", supply.text());
    for (const proto::LayerNotice& layer : told.layers()) add("layer", layer.text());
    for (const proto::EstimatesHeld& held : told.estimates()) add("held", held.text());
    for (const proto::FallenBehind& behind : told.behind()) add("behind", behind.text());
    for (const proto::MachineOutNotice& out : told.machines_out()) {
      add_all("try first", out.try_first());
    }
    if (day == 2) {
      proto::Record out;
      out.mutable_machine_out()->set_reason("belt");
      request.mutable_list_shop();
      out.mutable_machine_out()->set_machine(door_.sure_of(request).shop().machines(0).id());
      door_.record(out);
    }
  }

  LedgerFolder folder_;
  OpenDoor door_;
  std::set<std::pair<std::string, std::string>> texts_;
};

/// Once for all that looks at them.
Evenings& the_evenings() {
  static Evenings evenings;
  return evenings;
}

}  // namespace

TEST_CASE("a sentence is told apart into its id and arguments") {
  CHECK(ids_of("4.1 kg fell here from Old saw; 12 g/m², clean is 5.0 g/m²") ==
        "zone.why|fallen=4.1 kg|machines=Old saw|load=12 g/m²|clean=5.0 g/m²");
  CHECK(ids_of("12 g fell here, 3.0 g lay here before; 12 g/m², clean is 5.0 g/m². The layer nears "
               "the housekeeping limit of 954 g/m²") ==
        "zone.why|fallen=12 g|before=3.0 g|load=12 g/m²|clean=5.0 g/m²|limit=954 g/m²");
  CHECK(ids_of("Old saw: leave as found") == "reset.title|machine=Old saw");
  CHECK(ids_of("passed on 2 h ago, on 3 lists by now: no time") ==
        "since.passed-on|age=2 h ago|count=3|reason=no time");
  CHECK(ids_of("due by Tuesday, probably full by Friday (9 in 10 by Sunday)") ==
        "forecast.due-perhaps|day=Tuesday|full=Friday|nine=Sunday");
  CHECK(ids_of("Machine off and at rest first. Mask and eye protection: dust comes down on you.")
            .ends_with(" zone.high-mask"));
  CHECK(ids_of("").empty());
  CHECK(ids_of("the riving knife is bent").empty());
  CHECK(ids_of(": leave as found").empty());  // an argument is never empty
}

namespace {

void put_together_again() {
  Evenings& evenings = the_evenings();
  std::map<std::string, std::string> english;
  const proto::Phrases all = catalogue();
  for (const proto::PhraseText& phrase : all.phrases()) {
    english[phrase.id()] = phrase.english();
  }
  int told = 0;
  evenings.each([&](const std::string&, const std::string& text) {
    std::string again;
    for (const proto::Phrase& phrase : phrases_of(text)) {
      std::string put = english.at(phrase.id());
      // Groups of which no argument was given are absent.
      for (std::size_t open; (open = put.find('[')) != std::string::npos;) {
        const std::size_t close = put.find(']', open);
        const std::string group = put.substr(open + 1, close - open - 1);
        const bool given = std::ranges::any_of(phrase.arguments(), [&](const auto& argument) {
          return group.find("{" + argument.name() + "}") != std::string::npos;
        });
        put.replace(open, close - open + 1, given ? group : "");
      }
      for (const proto::PhraseArgument& argument : phrase.arguments()) {
        const std::string mark = "{" + argument.name() + "}";
        put.replace(put.find(mark), mark.size(), argument.text());
      }
      again += phrase.before() + put;
    }
    if (again.empty()) return;
    ++told;
    CHECK(again == text);
  });
  CHECK(told > 100);
}

void every_sentence_has_an_id() {
  Evenings& evenings = the_evenings();
  CHECK(evenings.size() > 200);
  // Names and the sheet's own duties are the shop's words: whoever wrote them translates them.
  const std::string sheet = contents(CHIPFALL_SOURCE_DIR "/checklists/otter-bend.textproto");
  std::set<std::string> fields;
  evenings.each([&](const std::string& field, const std::string& text) {
    fields.insert(field);
    if (sheet.find("\"" + text + "\"") != std::string::npos) return;
    CHECK_MESSAGE(!phrases_of(text).empty(), field << ": " << text);
  });
  for (const char* field : {"title", "why", "caution", "step", "reason", "note", "sharing",
                            "if not", "forecast", "evidence", "round", "supply", "try first"}) {
    CHECK_MESSAGE(fields.contains(field), field);
  }
}

void what_stands_in_a_sentence() {
  Evenings& evenings = the_evenings();
  const std::string sheet = contents(CHIPFALL_SOURCE_DIR "/checklists/otter-bend.textproto");
  const auto is_known = [&](const std::string& text) {
    const bool figure = text.find_first_of("0123456789") != std::string::npos;
    return figure || text.size() < 3 || !phrases_of(text).empty() ||
           sheet.find("\"" + text + "\"") != std::string::npos;
  };
  const std::set<std::string> lists{"machines", "bins", "unit", "tool"};
  evenings.each([&](const std::string&, const std::string& text) {
    for (const proto::Phrase& phrase : phrases_of(text)) {
      for (const proto::PhraseArgument& argument : phrase.arguments()) {
        if (lists.contains(argument.name())) continue;  // names with commas, words of the sheet
        CHECK_MESSAGE(is_known(argument.text()),
                      phrase.id() << " " << argument.name() << ": " << argument.text());
      }
    }
  });
}

void nothing_is_english() {
  Evenings& evenings = the_evenings();
  const std::string sheet = contents(CHIPFALL_SOURCE_DIR "/checklists/otter-bend.textproto");
  proto::Request request;
  request.mutable_phrase_list()->set_language("en-XA");
  const proto::Phrases table = evenings.door().sure_of(request).phrase_list();
  CHECK_FALSE(table.right_to_left());
  for (const proto::PhraseText& phrase : table.phrases()) {
    bool argument = false;
    for (const char c : phrase.text()) {
      argument = c == '{' || (argument && c != '}');
      const bool plain = !argument && std::string_view("aeiouAEIOU").find(c) != std::string::npos;
      CHECK_MESSAGE(!plain, phrase.id() << ": " << phrase.text());
      if (plain) break;
    }
  }
  const Retelling retelling(table);
  evenings.each([&](const std::string& field, const std::string& text) {
    if (sheet.find("\"" + text + "\"") != std::string::npos) return;
    proto::Response response;
    proto::Duty& duty = *response.mutable_wind_down()->add_duties();
    duty.set_why(text);
    duty.set_id(text);
    for (proto::Said& said : said_in(response.SerializeAsString())) {
      *response.add_said() = std::move(said);
    }
    retelling.retell(response);
    CHECK_MESSAGE(duty.why().starts_with("«"), field << ": " << duty.why());
    CHECK(duty.id() == text);
  });
}

}  // namespace

// One case: the evenings take seconds, with sanitizers half a minute, and each case is a process.
TEST_CASE("what eight days of evenings, lock-ups and looks make the core say") {
  SUBCASE("phrases put together again give the text, byte for byte") { put_together_again(); }
  SUBCASE("every sentence of eight days of evenings, lock-ups and looks has an id") {
    every_sentence_has_an_id();
  }
  SUBCASE("what stands in a sentence is a phrase itself, a figure, or a name of the shop") {
    what_stands_in_a_sentence();
  }
  SUBCASE("in the pseudo-locale nothing of eight days of evenings is English any more") {
    nothing_is_english();
  }
}

TEST_CASE("days, dates and times are told apart from other words") {
  CHECK(ids_of("Tuesday 3 Nov") == "date.nov|weekday=Tuesday|date=3");
  CHECK(ids_of("Friday 3 May 2025") == "date.may|weekday=Friday|date=3|year=2025");
  CHECK(ids_of("Tuesday 3 Nov 21:05") == "time.at|when=Tuesday 3 Nov|clock=21:05");
  CHECK(ids_of("yesterday second 01:30 UTC") == "time.second|when=yesterday|clock=01:30 UTC");
  CHECK(ids_of("Someday 3 Nov").empty());
  std::string long_text = "today";
  for (int i = 0; i < 100; ++i) long_text += " 21:05";
  CHECK(ids_of(long_text).empty());  // and at once
  CHECK(ids_of("Tuesday third Nov").empty());
  CHECK(ids_of("Bench 21:05").empty());
  CHECK(ids_of("today 9 pm").empty());
  const ShopClock clock("America/Chicago");
  constexpr std::int64_t kDay_ms = 86'400'000;
  for (int day = -400; day < 400; ++day) {
    const std::string text = clock.day_text(kTestNow_ms + day * kDay_ms, kTestNow_ms);
    CHECK_MESSAGE(!phrases_of(text).empty(), text);
  }
}

TEST_CASE("a line of the history names what was done as a phrase of its own") {
  CHECK(ids_of("Done: Saw floor: Vac, 5 min, 2 people") ==
        "line.done|title=Saw floor: Vac|minutes=5|people=2");
  CHECK(ids_of("Passed on: Saw floor: Vac (no time)") ==
        "line.passed-on|title=Saw floor: Vac|reason=no time");
  CHECK(ids_of("Session ended, 2 uses, 1 duty listed: \"Box\", 40 min") ==
        "line.session|uses=2 uses|duties=1 duty|name=Box|minutes=40");
}

TEST_CASE(
    "a count has its plural category in the shell's language, a figure with a unit has none") {
  proto::Recorded recorded;
  recorded.set_text("3 days ago");
  const auto category = [&](const char* language) {
    const auto said = said_in(recorded.SerializeAsString(), language);
    REQUIRE(said.size() == 1);
    return said[0].phrases(0).arguments(0).plural();
  };
  CHECK(category("pl") == "few");
  CHECK(category("ar") == "few");
  CHECK(category("en") == "other");
  CHECK(category("").empty());
  recorded.set_text("12 g fell here; 12 g/m\u00b2, clean is 5.0 g/m\u00b2");
  for (const proto::Said& said : said_in(recorded.SerializeAsString(), "pl")) {
    for (const auto& argument : said.phrases(0).arguments()) CHECK(argument.plural().empty());
  }
}

TEST_CASE("a table's form for a count is taken, and a name from right to left is set apart") {
  proto::Phrases table;
  const auto add = [&](const char* id, const char* text) {
    table.add_phrases()->set_id(id);
    table.mutable_phrases()->rbegin()->set_text(text);
  };
  add("age.days", "{count} dni temu");
  add("age.days.count.one", "{count} dzień temu");
  add("since.passed-on", "[{why}; ]przekazane {age}[, na {count} listach][: {reason}]");
  add("since.passed-on.count.few",
      "[{why}; ]przekazane {age}[, już na {count} listach][: {reason}]");
  add("reset.title", "{machine}: zostaw jak było");
  proto::Response response;
  response.mutable_recorded()->set_text("passed on 5 days ago, on 3 lists by now");
  response.mutable_recorded()->mutable_list()->add_notes(
      "\u05DE\u05E1\u05D5\u05E8: leave as found");
  for (proto::Said& said : said_in(response.SerializeAsString(), "pl")) {
    *response.add_said() = std::move(said);
  }
  Retelling(table).retell(response);
  CHECK(response.recorded().text() == "przekazane 5 dni temu, już na 3 listach");
  CHECK(response.recorded().list().notes(0) ==
        "\u2068\u05DE\u05E1\u05D5\u05E8\u2069: zostaw jak było");
}

TEST_CASE("ids of the catalogue are there once each and its texts give their own id") {
  std::set<std::string> ids;
  const proto::Phrases all = catalogue();
  for (const proto::PhraseText& phrase : all.phrases()) {
    CHECK_MESSAGE(ids.insert(phrase.id()).second, phrase.id());
  }
  // A text of its own, with figures where only figures can stand.
  std::vector<CatalogueEntry> entries;
  for (const auto& part : {history_catalogue(), core_catalogue(), mistake_catalogue()}) {
    entries.insert(entries.end(), part.begin(), part.end());
  }
  const std::map<std::string, std::string> figures{{"{weekday}", "Monday"},
                                                   {"{date}", "3"},
                                                   {"{year}", "2026"},
                                                   {"{when}", "today"},
                                                   {"{clock}", "21:05"}};
  for (const CatalogueEntry& entry : entries) {
    std::string text = entry.english;
    for (const auto& [mark, put] : figures) {
      const std::size_t at = text.find(mark);
      if (at != std::string::npos) text.replace(at, mark.size(), put);
    }
    std::string filled;
    for (const char c : text) {
      if (c != '[' && c != ']') filled += c;
    }
    const auto phrases = phrases_of(filled);
    REQUIRE_MESSAGE(phrases.size() == 1, entry.id);
    CHECK_MESSAGE(phrases[0].id() == entry.id, entry.id << ", not " << phrases[0].id());
  }
}
