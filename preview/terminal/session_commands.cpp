#include "preview/terminal/session_commands.h"

#include <memory>
#include <ostream>

#include <fmt/format.h>

#include "preview/terminal/dust_map.h"
#include "preview/terminal/list_text.h"
#include "preview/terminal/options.h"
#include "preview/terminal/print_sheet.h"

namespace chipfall {
namespace {

struct SheetAndSession {
  std::string sheet;
  std::string ledger;
  SessionOptions session;
  bool json = false;
  std::string out;
};

/// Asks for a list or a map of the session; mistakes in flags are located by the flag.
Result<proto::Response> ask(const SheetAndSession& asked, bool map) {
  const Result<Text> text = read_file(asked.sheet);
  if (!text) return tl::unexpected(text.error());
  Result<DoorClient> door = DoorClient::open(asked.ledger, true);
  if (!door) return tl::unexpected(door.error());
  const auto loaded = load_sheet(*door, *text);
  if (!loaded) return tl::unexpected(loaded.error());
  Result<proto::PlanWindDown> plan = plan_asked(asked.session);
  if (!plan) return tl::unexpected(plan.error());
  proto::Request request;
  *(map ? request.mutable_draw_map() : request.mutable_wind_down()) = *std::move(plan);
  Result<proto::Response> response = door->ask(request);
  if (!response) return tl::unexpected(at_flags(response.error(), asked.session));
  return response;
}

int wind_down_command(const SheetAndSession& asked, std::ostream& out, std::ostream& err) {
  const Result<proto::Response> response = ask(asked, false);
  if (!response) return explain(response.error(), err, kMistakes);
  const proto::WindDown& list = response->wind_down();
  out << (asked.json ? json_text(list) : list_text(list, columns()));
  return kDone;
}

int map_command(const SheetAndSession& asked, std::ostream& out, std::ostream& err) {
  const Result<proto::Response> response = ask(asked, true);
  if (!response) return explain(response.error(), err, kMistakes);
  const Result<void> drawn = draw_dust_map(response->map(), asked.out);
  if (!drawn) return explain(drawn.error(), err, kNotWritten);
  out << asked.out << "\n";
  return kDone;
}

int sheet_command(const SheetAndSession& asked, std::ostream& out, std::ostream& err) {
  const Result<proto::Response> response = ask(asked, false);
  if (!response) return explain(response.error(), err, kMistakes);
  const Result<void> drawn = draw_sheet(response->wind_down(), asked.out);
  if (!drawn) return explain(drawn.error(), err, kNotWritten);
  out << asked.out << "\n";
  return kDone;
}

struct CheckOptions {
  std::string sheet;
  std::vector<std::string> sessions;
  std::string state;
};

/// Mistakes of a session or state file against the shop that is loaded.
Errors check_file(DoorClient& door, const std::string& path, bool session) {
  const Result<Text> text = read_file(path);
  if (!text) return text.error();
  proto::Request request;
  proto::SheetText& put =
      session ? *request.mutable_check_session() : *request.mutable_check_state();
  put.set_name(text->name);
  put.set_content(text->content);
  const Result<proto::Response> response = door.ask(request);
  return response ? Errors() : response.error();
}

std::string summary(const proto::SheetLoaded& loaded) {
  std::string text =
      fmt::format("{}: {} zones, {} machines, {} bins, {:.0f} m² on the floor\n", loaded.shop(),
                  loaded.zones(), loaded.machines(), loaded.bins(), loaded.floor_m2());
  if (!loaded.time_note().empty()) {
    fmt::format_to(std::back_inserter(text), "{}\n", loaded.time_note());
  }
  return text;
}

int check_command(const CheckOptions& options, std::ostream& out, std::ostream& err) {
  const Result<Text> text = read_file(options.sheet);
  if (!text) return explain(text.error(), err, kMistakes);
  Result<DoorClient> door = DoorClient::open("", false);
  if (!door) return explain(door.error(), err, kMistakes);
  const auto loaded = load_sheet(*door, *text);
  if (!loaded) {
    explain(loaded.error(), err, kMistakes);
    err << fmt::format("{} to mend in {}\n", loaded.error().size(), options.sheet);
    return kMistakes;
  }
  Errors errors;
  const auto check = [&](const std::string& path, bool session) {
    const Errors found = check_file(*door, path, session);
    errors.insert(errors.end(), found.begin(), found.end());
  };
  for (const std::string& path : options.sessions) check(path, true);
  if (!options.state.empty()) check(options.state, false);
  if (!errors.empty()) return explain(errors, err, kMistakes);
  out << summary(*loaded) << "No mistakes found.\n";
  return kDone;
}

void add_check(CLI::App& app, Command& chosen) {
  CLI::App* command =
      app.add_subcommand("check", "List every mistake in a shop sheet, with its place");
  const auto asked = std::make_shared<CheckOptions>();
  command->add_option("sheet", asked->sheet, "Shop sheet (*.textproto)")->required();
  command->add_option("--session", asked->sessions, "Check a session file too; repeatable")
      ->allow_extra_args(false);
  command->add_option("--state", asked->state, "Check a state file too");
  command->callback([asked, &chosen] {
    chosen = [asked](std::ostream& out, std::ostream& err) {
      return check_command(*asked, out, err);
    };
  });
}

using Work = int (*)(const SheetAndSession&, std::ostream&, std::ostream&);

std::shared_ptr<SheetAndSession> add(CLI::App& app, Command& chosen, const char* name,
                                     const char* help, Work work) {
  CLI::App* command = app.add_subcommand(name, help);
  auto asked = std::make_shared<SheetAndSession>();
  command->add_option("sheet", asked->sheet, "Shop sheet (*.textproto)")->required();
  add_session_options(*command, asked->session);
  add_ledger_option(*command, asked->ledger);
  command->callback([asked, work, &chosen] {
    chosen = [asked, work](std::ostream& out, std::ostream& err) { return work(*asked, out, err); };
  });
  return asked;
}

}  // namespace

Result<proto::SheetLoaded> load_sheet(DoorClient& door, const Text& text, proto::LoadSheet asked) {
  proto::Request request;
  asked.mutable_sheet()->set_name(text.name);
  asked.mutable_sheet()->set_content(text.content);
  *request.mutable_load_sheet() = std::move(asked);
  const Result<proto::Response> response = door.ask(request);
  if (!response) return tl::unexpected(response.error());
  return response->sheet_loaded();
}

void add_session_commands(CLI::App& app, Command& chosen) {
  add_check(app, chosen);
  const auto list = add(app, chosen, "wind-down",
                        "What to clean after a session: where, with what, how long, in which order",
                        wind_down_command);
  app.get_subcommand("wind-down")
      ->add_flag("--json", list->json, "Answer as JSON (message chipfall.proto.WindDown)");
  const auto map = add(app, chosen, "map", "Draw where a session's dust fell", map_command);
  app.get_subcommand("map")
      ->add_option("--out", map->out, "File to write: .svg, .png or .pdf")
      ->required();
  const auto sheet = add(app, chosen, "sheet", "Print a session's list on one page", sheet_command);
  app.get_subcommand("sheet")
      ->add_option("--out", sheet->out, "File to write: .pdf, .svg or .png")
      ->required();
}

}  // namespace chipfall
