#include "preview/terminal/commands.h"

#include <filesystem>
#include <fstream>
#include <sstream>
#include <vector>

#include <unistd.h>

#include <doctest/doctest.h>
#include <google/protobuf/util/json_util.h>

#include "core/proto/wind_down.pb.h"
#include "tests/unit/open_door.h"

using namespace chipfall;

namespace {

namespace fs = std::filesystem;

/// A folder with the small shop's files, gone with the test.
class Folder {
 public:
  Folder() {
    static int number = 0;
    path_ = fs::temp_directory_path() /
            ("chipfall-test-" + std::to_string(::getpid()) + "-" + std::to_string(++number));
    fs::create_directories(path_);
    write("shop.textproto", test::own_sheet());
    write("session.textproto", test::small_session_text());
    write("state.textproto", test::small_state_text());
  }
  ~Folder() { fs::remove_all(path_); }
  Folder(const Folder&) = delete;
  Folder& operator=(const Folder&) = delete;

  std::string operator/(const std::string& name) const { return (path_ / name).string(); }
  void write(const std::string& name, const std::string& text) const {
    std::ofstream(path_ / name, std::ios::binary) << text;
  }

 private:
  fs::path path_;
};

struct Said {
  int code = 0;
  std::string out;
  std::string err;
};

Said chipfall_says(std::vector<std::string> arguments) {
  arguments.insert(arguments.begin(), "chipfall");
  std::vector<const char*> argv;
  for (const std::string& argument : arguments) argv.push_back(argument.c_str());
  std::ostringstream out, err;
  const int code = run(static_cast<int>(argv.size()), argv.data(), out, err);
  return {code, out.str(), err.str()};
}

proto::WindDown parsed(const std::string& json) {
  proto::WindDown answer;
  REQUIRE(google::protobuf::util::JsonStringToMessage(json, &answer).ok());
  return answer;
}

}  // namespace

TEST_CASE("a right sheet passes the check, a wrong one is explained line by line") {
  const Folder folder;
  const Said good =
      chipfall_says({"check", folder / "shop.textproto", "--session", folder / "session.textproto",
                     "--state", folder / "state.textproto"});
  CHECK_MESSAGE(good.code == kDone, good.err);
  CHECK(good.out.find("No mistakes found.") != std::string::npos);
  folder.write("wrong.textproto", "name: \"X\"\nroom { ceiling_m: -3 }\nzonez { }\n");
  const Said wrong = chipfall_says({"check", folder / "wrong.textproto"});
  CHECK(wrong.code == kMistakes);
  CHECK(wrong.out.empty());
  CHECK(wrong.err.find("wrong.textproto:2:") != std::string::npos);
  CHECK(wrong.err.find("wrong.textproto:3:") != std::string::npos);
}

TEST_CASE("wind-down answers from a session file and from flags alike") {
  const Folder folder;
  const Said file =
      chipfall_says({"wind-down", folder / "shop.textproto", folder / "session.textproto",
                     "--state", folder / "state.textproto"});
  CHECK_MESSAGE(file.code == kDone, file.err);
  CHECK(file.out.find("Tools down by") != std::string::npos);
  const Said flags =
      chipfall_says({"wind-down", folder / "shop.textproto", "--use", "saw-1:20:oak", "--use",
                     "lathe-1:10:pine", "--people", "2", "--leave", "21:00"});
  CHECK_MESSAGE(flags.code == kDone, flags.err);
  CHECK(flags.out.find("to leave at 21:00") != std::string::npos);
}

TEST_CASE("extraction off, by use or for all, leaves more on the floor") {
  const Folder folder;
  const auto in_bins = [&](std::vector<std::string> more) {
    std::vector<std::string> arguments{"wind-down", folder / "shop.textproto", "--json"};
    arguments.insert(arguments.end(), more.begin(), more.end());
    return parsed(chipfall_says(arguments).out).balance().in_bins();
  };
  CHECK(in_bins({"--use", "saw-1:20:oak"}) > 0);
  CHECK(in_bins({"--use", "saw-1:20:oak:off"}) == 0);
  CHECK(in_bins({"--use", "saw-1:20:oak", "--extraction-off"}) == 0);
}

TEST_CASE("the JSON answer carries minutes, grams, duties in order and a closed balance") {
  const Folder folder;
  const Said said = chipfall_says(
      {"wind-down", folder / "shop.textproto", folder / "session.textproto", "--json"});
  REQUIRE(said.code == kDone);
  for (const char* field :
       {"\"minutesMedian\"", "\"minutesP80\"", "\"removedGrams\"", "\"balance\"", "\"id\"",
        "\"zone\"", "\"minutes\"", "\"weight\"", "\"order\""}) {
    CAPTURE(field);
    CHECK(said.out.find(field) != std::string::npos);
  }
  const proto::WindDown answer = parsed(said.out);
  CHECK(answer.format() == 1);
  for (int i = 0; i < answer.duties_size(); ++i) CHECK(answer.duties(i).order() == i + 1);
  const proto::Balance& b = answer.balance();
  CHECK(b.in_bins() + b.on_zones() + b.filtered() + b.vented() + b.airborne() ==
        doctest::Approx(answer.removed_grams()).epsilon(1e-9));
}

TEST_CASE("a figure in metric is the same figure in US units") {
  const Folder folder;
  std::ifstream in(folder / "shop.textproto");
  std::string sheet{std::istreambuf_iterator<char>(in), {}};
  sheet.replace(sheet.find("units: \"metric\""), 15, "units: \"US\"");
  folder.write("us.textproto", sheet);
  const Said said = chipfall_says({"wind-down", folder / "us.textproto", "--use", "saw-1:60:oak"});
  REQUIRE(said.code == kDone);
  CHECK(said.out.find(" lb of wood became chips") != std::string::npos);
  CHECK(said.out.find(" lb/1000 ft²") != std::string::npos);
  CHECK(said.out.find(" g/m²") == std::string::npos);
}

TEST_CASE("mistakes in flags name the flag and what would be right") {
  const Folder folder;
  const std::string shop = folder / "shop.textproto";
  struct Wrong {
    std::vector<std::string> flags;
    std::string said;
  };
  const std::vector<Wrong> cases{
      {{}, "say what was used"},
      {{"--use", "saw-1"}, "machine:minutes:stock"},
      {{"--use", "saw-1:x:oak"}, "not a number of minutes"},
      {{"--use", "saw-1:20:oak:maybe"}, ":off"},
      {{"--use", "saw-9:20:oak"}, "saw-1"},
      {{"--use", "saw-1:20:oka"}, "oak"},
      {{"--use", "saw-1:-5:oak"}, "minutes"},
      {{"--use", "saw-1:nan:oak"}, "minutes"},
      {{"--use", "saw-1:1e99:oak"}, "minutes"},
      {{"--use", "saw-1:20:oak", "--people", "-2"}, "people"},
      {{"--use", "saw-1:20:oak", "--people", "999"}, "people"},
      {{"--use", "saw-1:20:oak", "--leave", "25:00"}, "HH:MM"},
      {{"--use", "saw-1:20:oak", "--open-gate", "g7"}, "g7"},
      {{"--use", "saw-1:20:oak", "--state", folder / "none.textproto"}, "none.textproto"},
      {{folder / "session.textproto", "--use", "saw-1:20:oak"}, "one or the other"},
  };
  for (const Wrong& wrong : cases) {
    std::vector<std::string> arguments{"wind-down", shop};
    arguments.insert(arguments.end(), wrong.flags.begin(), wrong.flags.end());
    const Said said = chipfall_says(arguments);
    CAPTURE(wrong.said);
    CHECK(said.code == kMistakes);
    CHECK(said.out.empty());
    CHECK_MESSAGE(said.err.find(wrong.said) != std::string::npos, said.err);
  }
}

TEST_CASE("a wrong command line, an unreadable file and an unwritable one have their own codes") {
  const Folder folder;
  CHECK(chipfall_says({}).code == kUsage);
  CHECK(chipfall_says({"sweep"}).code == kUsage);
  CHECK(chipfall_says({"wind-down"}).code == kUsage);
  CHECK(chipfall_says({"check", folder / "none.textproto"}).code == kMistakes);
  CHECK(chipfall_says({"check", folder / ""}).err.find("folder") != std::string::npos);
  const Said map = chipfall_says({"map", folder / "shop.textproto", folder / "session.textproto",
                                  "--out", folder / "no-such/map.png"});
  CHECK(map.code == kNotWritten);
  CHECK(map.err.find("no-such") != std::string::npos);
  CHECK(chipfall_says({"sheet", folder / "shop.textproto", folder / "session.textproto", "--out",
                       folder / "list.doc"})
            .code == kNotWritten);
}

TEST_CASE("help and version go to standard output and succeed") {
  const Said help = chipfall_says({"--help"});
  CHECK(help.code == kDone);
  CHECK(help.out.find("Examples:") != std::string::npos);
  CHECK(help.out.find("Exit codes:") != std::string::npos);
  CHECK(help.err.empty());
  CHECK(chipfall_says({"wind-down", "--help"}).code == kDone);
  CHECK(chipfall_says({"--version"}).out.find("chipfall 0.1.0") != std::string::npos);
}

TEST_CASE("map and sheet write what their ending asks for") {
  const Folder folder;
  for (const char* command : {"map", "sheet"}) {
    for (const char* name : {"out.svg", "out.png", "out.pdf"}) {
      CAPTURE(command);
      CAPTURE(name);
      const Said said = chipfall_says({command, folder / "shop.textproto",
                                       folder / "session.textproto", "--out", folder / name});
      CHECK_MESSAGE(said.code == kDone, said.err);
      CHECK(fs::file_size(folder / name) > 1000);
    }
  }
}

TEST_CASE("a crew sees its lanes with clock times, and JSON carries the same") {
  const Folder folder;
  const std::vector<std::string> asked{"wind-down", folder / "shop.textproto",
                                       folder / "session.textproto"};
  const Said text = chipfall_says(asked);
  REQUIRE_MESSAGE(text.code == kDone, text.err);
  CHECK(text.out.find("Tools down by") < text.out.find("Who does what"));
  std::vector<std::string> as_json = asked;
  as_json.push_back("--json");
  const proto::WindDown answer = parsed(chipfall_says(as_json).out);
  REQUIRE(answer.lanes_size() == 2);
  int steps = 0;
  for (const proto::Lane& lane : answer.lanes()) {
    for (const proto::LaneStep& step : lane.steps()) {
      ++steps;
      CHECK(text.out.find(step.starts_at() + "  " + std::to_string(step.order()) + ". ") !=
            std::string::npos);
      CHECK(answer.duties(step.order() - 1).id() == step.duty());
    }
  }
  CHECK(steps >= answer.duties_size());
  CHECK(answer.finish().lower_bound_minutes() > 0);
}

TEST_CASE("short of time, the command passes on with reasons and drops nothing") {
  const Folder folder;
  const proto::WindDown answer =
      parsed(chipfall_says({"wind-down", folder / "shop.textproto", folder / "session.textproto",
                            "--within", "5", "--json"})
                 .out);
  CHECK(answer.passed_on_size() > 0);
  int planned = 0;
  for (const proto::Lane& lane : answer.lanes()) {
    for (const proto::LaneStep& step : lane.steps()) planned += step.with().empty();
  }
  int together = 0;
  for (const proto::Duty& duty : answer.duties()) together += duty.people() > 1;
  CHECK(planned + together + answer.passed_on_size() >= answer.duties_size());
  for (const proto::PassedOn& passed : answer.passed_on()) CHECK(!passed.reason().empty());
  CHECK(chipfall_says({"wind-down", folder / "shop.textproto", folder / "session.textproto",
                       "--within", "-3"})
            .code == kUsage);
}

TEST_CASE("planning anew says from when, and mistakes in the crew's file have their place") {
  const Folder folder;
  folder.write("now.textproto", "clock: \"21:00\"\nbroken_tools: \"hose\"\n");
  const std::vector<std::string> asked{"wind-down", folder / "shop.textproto",
                                       folder / "session.textproto", "--now",
                                       folder / "now.textproto"};
  const Said good = chipfall_says(asked);
  CHECK_MESSAGE(good.code == kDone, good.err);
  CHECK(good.out.find("From 21:00: done by") != std::string::npos);
  CHECK(good.out.find("Tools down by") == std::string::npos);
  folder.write("now.textproto", "clock: \"21:00\"\nbroken_tools: \"hosepipe\"\n");
  const Said wrong = chipfall_says(asked);
  CHECK(wrong.code == kMistakes);
  CHECK(wrong.err.find("now.textproto:2:") != std::string::npos);
}
