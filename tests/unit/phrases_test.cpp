#include "core/door/phrases.h"

#include <doctest/doctest.h>

#include <set>

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
      out.mutable_machine_out()->set_machine("table-saw");
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

/// Once for the whole run: they take seconds.
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

TEST_CASE("phrases put together again give the text, byte for byte") {
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

TEST_CASE("every sentence of eight days of evenings, lock-ups and looks has an id") {
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

TEST_CASE("ids of the catalogue are there once each and its texts give their own id") {
  std::set<std::string> ids;
  const proto::Phrases all = catalogue();
  for (const proto::PhraseText& phrase : all.phrases()) {
    CHECK_MESSAGE(ids.insert(phrase.id()).second, phrase.id());
  }
  for (const CatalogueEntry& entry : core_catalogue()) {
    std::string text = entry.english;
    std::string filled;
    for (const char c : text) {
      if (c != '[' && c != ']') filled += c;
    }
    const auto phrases = phrases_of(filled);
    REQUIRE_MESSAGE(phrases.size() == 1, entry.id);
    CHECK(phrases[0].id() == entry.id);
  }
}

TEST_CASE("an answer brings what it says in phrases only when asked to") {
  const LedgerFolder folder;
  OpenDoor door(folder.file(""));
  door.keep_sheet();
  proto::Request request;
  *request.mutable_wind_down() = ended_session().session();
  const proto::Response plain = door.sure_of(request);
  CHECK(plain.said_size() == 0);
  request.set_phrases(true);
  proto::Response said = door.sure_of(request);
  std::set<std::string> texts;
  for (const proto::Said& one : said.said()) {
    CHECK(texts.insert(one.text()).second);
    CHECK(one.phrases_size() > 0);
  }
  for (const proto::Duty& duty : said.wind_down().duties()) {
    if (!duty.why().empty()) CHECK_MESSAGE(texts.contains(duty.why()), duty.why());
  }
  CHECK(texts.contains("just now") == false);
  said.clear_said();
  CHECK(said.SerializeAsString() == plain.SerializeAsString());
}

TEST_CASE("mistakes that a person can make at a phone have ids as well") {
  const LedgerFolder folder;
  OpenDoor door(folder.file(""));
  proto::Request request;
  request.set_phrases(true);
  const auto id = [&] {
    const proto::Response response = door.ask(request);
    REQUIRE(response.mistakes_size() > 0);
    for (const proto::Said& said : response.said()) {
      if (said.text() == response.mistakes(0).message()) return said.phrases(0).id();
    }
    return "none for: " + response.mistakes(0).message();
  };
  request.mutable_wind_down();
  CHECK(id() == "mistake.no-sheet");
  request.mutable_list();
  CHECK(id() == "mistake.no-list");
  request.mutable_join()->set_code("CF1*A");
  CHECK(id() == "mistake.code");
  request.mutable_sync()->mutable_opened();
  CHECK(id() == "mistake.not-joined");
  door.keep_sheet();
  request.mutable_lock_up()->set_people(99);
  CHECK(id() == "mistake.people");
  request.mutable_record()->mutable_done()->mutable_duty()->set_id("nothing");
  CHECK(id().substr(0, 7) == "mistake");
}
