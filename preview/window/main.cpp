#include <algorithm>
#include <cstdlib>
#include <filesystem>
#include <iostream>

#include <fmt/format.h>
#include <CLI/CLI.hpp>

#include "preview/terminal/door_client.h"
#include "preview/terminal/files.h"
#include "preview/window/demo_shop.h"
#include "preview/window/gl_window.h"
#include "preview/window/measure.h"
#include "preview/window/script.h"
#include "preview/window/set_up.h"

namespace chipfall::window {
namespace {

struct Asked {
  SetUp set_up;
  std::string script;
  PlayOptions play;
  std::string language;
  float text_percent = 0;
  float pixels = 0;
  bool measure = false;
};

int explain(const Errors& errors) {
  for (const Error& error : errors) std::cerr << error.text() << "\n";
  return 1;
}

int play_script(const Asked& asked, Desk& desk, Stage& stage) {
  const Result<Text> text = read_file(asked.script);
  if (!text) return explain(text.error());
  const auto script = read_script(asked.script, text->content);
  if (!script) return explain(script.error());
  const Result<void> played = play(asked.script, *script, desk, stage, asked.play);
  if (!played) return explain(played.error());
  std::cout << fmt::format("{}: all {} steps went well\n", asked.script, script->size());
  return 0;
}

int run(Asked& asked, const ProgramStart& start) {
  DoorClient::speak(asked.language);
  asked.play.text_size = asked.text_percent / 100;
  asked.set_up.at_once = !asked.script.empty();
  asked.set_up.standing = asked.set_up.at_once || asked.measure;
  if (!asked.set_up.standing) asked.set_up.wake = &GlStage::wake;
  if (!asked.play.pictures.empty()) std::filesystem::create_directories(asked.play.pictures);
  Result<TemporaryFolder> scratch = TemporaryFolder::make();
  if (!scratch) return explain(scratch.error());
  Result<std::unique_ptr<Desk>> desk = set_up(asked.set_up, scratch->path());
  if (!desk) return explain(desk.error());
  if (asked.measure) ask_first_list(**desk);  // answered while the window opens
  const bool display = std::getenv("DISPLAY") != nullptr;
  if ((asked.measure && !display) || (!asked.script.empty() && asked.play.pictures.empty())) {
    NoStage stage(**desk);
    if (!asked.measure) return play_script(asked, **desk, stage);
    measure(**desk, stage, start, std::cout);
    return 0;
  }
  Result<std::unique_ptr<GlStage>> stage = GlStage::open(**desk, asked.pixels);
  if (!stage) return explain(stage.error());
  if (!asked.script.empty()) return play_script(asked, **desk, **stage);
  if (asked.measure) {
    measure(**desk, **stage, start, std::cout);
    return 0;
  }
  (*stage)->run();
  return 0;
}

}  // namespace
}  // namespace chipfall::window

int main(int count, char** words) {
  using namespace chipfall::window;
  const ProgramStart start = ProgramStart::now();
  CLI::App app{"Shows what phones of a shop would show, side by side, through the same door."};
  Asked asked;
  app.add_flag("--demo", asked.set_up.demo,
               "The invented demo shop with three weeks behind it, in a folder of its own that "
               "goes away at the end (unless --data names one)");
  app.add_option("--data", asked.set_up.folder, "Folder where things are recorded");
  app.add_option("--checklists", asked.set_up.checklists, "Folder with the demo shop's sheet")
      ->capture_default_str();
  app.add_option("--phones", asked.set_up.phones,
                 "Which ones, by comma: member, second, closer, coordinator, wide")
      ->delimiter(',')
      ->capture_default_str();
  app.add_option("--script", asked.script,
                 "Plays this script (preview/window/script.h), then ends");
  app.add_option("--pictures", asked.play.pictures, "Folder for the script's pictures");
  app.add_option("--text", asked.text_percent, "Size of text in percent, for all phones")
      ->check(CLI::Range(100, 310));
  app.add_option("--pixels", asked.pixels, "Screen pixels for each device-independent one")
      ->check(CLI::Range(0.5, 4.0));
  app.add_option("--language", asked.language,
                 "What the core says in a language that nobody speaks, to see what a translation "
                 "would break: en-XA, longer and accented, or ar-XB, from right to left")
      ->check(CLI::IsMember({"en-XA", "ar-XB"}));
  app.add_flag("--measure", asked.measure,
               "Prints how long the first list and drawing take, on a display if there is one");
  app.footer(
      "Exit codes: 0 done; 1 something could not be opened, or a script's step failed.\n"
      "Example: chipfall-window --demo --phones member,closer,wide");
  CLI11_PARSE(app, count, words);
  return run(asked, start);
}
