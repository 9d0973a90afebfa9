#include <set>
#include <string>
#include <string_view>

#include <doctest/doctest.h>

#include "tests/unit/open_door.h"

/// What an answer of the door brings beside its text, so that a shell can say it otherwise.
using namespace chipfall;
using namespace chipfall::test;

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

TEST_CASE("an answer for a language that runs from right to left says so") {
  const LedgerFolder folder;
  OpenDoor door(folder.file(""));
  proto::Request request;
  request.set_phrases(true);
  request.set_language("he-IL");
  request.mutable_saving();
  CHECK(door.sure_of(request).right_to_left());
  request.set_language("es");
  CHECK_FALSE(door.sure_of(request).right_to_left());
  request.mutable_phrase_list()->set_language("ar-XB");
  const proto::Phrases table = door.sure_of(request).phrase_list();
  CHECK(table.right_to_left());
  for (const proto::PhraseText& phrase : table.phrases()) {
    // Every override ends where it should: before an argument, a bracket, or the end.
    int open = 0;
    for (std::size_t at = 0; at < phrase.text().size(); ++at) {
      const std::string_view rest = std::string_view(phrase.text()).substr(at);
      if (rest.starts_with("\u202E")) ++open;
      if (rest.starts_with("\u202C")) --open;
      const bool apart = std::string_view("{[]").find(rest.front()) != std::string_view::npos;
      CHECK_MESSAGE((open == 0 || (open == 1 && !apart)), phrase.text());
    }
    CHECK(open == 0);
  }
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
