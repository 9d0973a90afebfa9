#include "preview/terminal/commands.h"

#include <cstdlib>
#include <exception>
#include <functional>
#include <ostream>

#include <fmt/format.h>
#include <google/protobuf/util/json_util.h>
#include <CLI/CLI.hpp>

#include "core/crew/now.h"
#include "core/door/answer.h"
#include "core/shop/load.h"
#include "preview/terminal/dust_map.h"
#include "preview/terminal/files.h"
#include "preview/terminal/list_text.h"
#include "preview/terminal/options.h"
#include "preview/terminal/print_sheet.h"

namespace chipfall {
namespace {

constexpr const char* kVersion = "chipfall 0.1.0";
constexpr const char* kFooter = R"(
Examples:
  chipfall check shop.textproto --session tonight.textproto
  chipfall wind-down shop.textproto tonight.textproto --people 3 --leave 21:30
  chipfall wind-down shop.textproto --use table-saw:20:red-oak --use planer:10:cherry:off
  chipfall map shop.textproto tonight.textproto --out dust.svg
  chipfall sheet shop.textproto tonight.textproto --out list.pdf

Exit codes: 0 done; 1 mistakes in a file or flag, each with its place; 2 wrong command line;
3 an output could not be written.)";

/// Narrow enough to read on a phone held over a terminal, wide enough for a sentence.
constexpr int kNarrowest = 40;
constexpr int kWidest = 100;

int columns() {
  const char* set = std::getenv("COLUMNS");
  const int asked = set != nullptr ? std::atoi(set) : 0;
  return asked > 0 ? std::clamp(asked, kNarrowest, kWidest) : 88;
}

int explain(const Errors& errors, std::ostream& err, ExitCode code) {
  for (const Error& error : errors) err << error.text() << "\n";
  return code;
}

/// One session worked out.
struct Answered {
  Request request;
  Evening evening;
};

/// From now on, where a file says how far the crew is: the session ends with what is left.
Result<EveningOptions> options_for(const SessionOptions& options, Request& request,
                                   const WindDown& list) {
  EveningOptions out;
  if (options.within_minutes > 0) out.within_minutes = options.within_minutes;
  if (options.now.empty()) return out;
  const Result<Text> text = read_file(options.now);
  if (!text) return tl::unexpected(text.error());
  Result<CrewNow> now = load_crew_now(*text, request.shop, request.session, list);
  if (!now) return tl::unexpected(now.error());
  out.crew = std::move(now->crew);
  out.done = std::move(now->done);
  out.begin_minute = now->clock_minute;
  return out;
}

Result<Answered> work_out(const SessionOptions& options) {
  Result<Request> request = load_request(options);
  if (!request) return tl::unexpected(request.error());
  const Overlay overlay = overlay_of(request->shop);
  WindDown list = wind_down(request->shop, overlay, request->state, request->session);
  const Result<EveningOptions> crew = options_for(options, *request, list);
  if (!crew) return tl::unexpected(crew.error());
  Evening evening = plan_evening(request->shop, request->session, std::move(list), *crew);
  return Answered{*std::move(request), std::move(evening)};
}

proto::DustMap map_of(const Answered& answered) {
  const Request& request = answered.request;
  return dust_map(request.shop, request.state, request.session, answered.evening);
}

std::string json_text(const google::protobuf::Message& message) {
  google::protobuf::util::JsonPrintOptions options;
  options.add_whitespace = true;
  options.always_print_primitive_fields = true;
  std::string json;
  const auto status = google::protobuf::util::MessageToJsonString(message, &json, options);
  if (!status.ok()) throw std::runtime_error("writing JSON: " + status.ToString());
  return json;
}

int wind_down_command(const SessionOptions& options, bool json, std::ostream& out,
                      std::ostream& err) {
  const Result<Answered> answered = work_out(options);
  if (!answered) return explain(answered.error(), err, kMistakes);
  const Request& request = answered->request;
  const proto::WindDown message =
      answer(request.shop, request.state, request.session, answered->evening);
  out << (json ? json_text(message) : list_text(message, columns()));
  return kDone;
}

int drawing_command(const SessionOptions& options, const std::string& path, bool map,
                    std::ostream& out, std::ostream& err) {
  const Result<Answered> answered = work_out(options);
  if (!answered) return explain(answered.error(), err, kMistakes);
  const proto::DustMap message = map_of(*answered);
  const Result<void> drawn =
      map ? draw_dust_map(message, path) : draw_sheet(message.answer(), path);
  if (!drawn) return explain(drawn.error(), err, kNotWritten);
  out << path << "\n";
  return kDone;
}

struct CheckOptions {
  std::string sheet;
  std::vector<std::string> sessions;
  std::string state;
};

template <typename Load>
void check_file(const std::string& path, const Load& load, Errors& errors) {
  const Result<Text> text = read_file(path);
  const Errors found = text ? load(*text) : text.error();
  errors.insert(errors.end(), found.begin(), found.end());
}

template <typename T>
Errors mistakes_of(const Result<T>& result) {
  return result ? Errors() : result.error();
}

std::string summary(const Shop& shop) {
  return fmt::format("{}: {} zones, {} machines, {} bins, {} on the floor\n", shop.name,
                     shop.zones.size(), shop.machines.size(), shop.bins.size(),
                     fmt::format("{:.0f} m²", shop.floor_m2()));
}

int check_command(const CheckOptions& options, std::ostream& out, std::ostream& err) {
  const Result<Text> text = read_file(options.sheet);
  if (!text) return explain(text.error(), err, kMistakes);
  const Result<Shop> shop = load_shop(*text, builtin_library());
  if (!shop) {
    explain(shop.error(), err, kMistakes);
    err << fmt::format("{} to mend in {}\n", shop.error().size(), options.sheet);
    return kMistakes;
  }
  Errors errors;
  for (const std::string& path : options.sessions) {
    check_file(
        path, [&](const Text& t) { return mistakes_of(load_session(t, *shop)); }, errors);
  }
  if (!options.state.empty()) {
    check_file(
        options.state, [&](const Text& t) { return mistakes_of(load_state(t, *shop)); }, errors);
  }
  if (!errors.empty()) return explain(errors, err, kMistakes);
  out << summary(*shop) << "No mistakes found.\n";
  return kDone;
}

/// The command line, and what was asked for.
struct Asked {
  CheckOptions check;
  SessionOptions session;
  bool json = false;
  std::string out;
  std::function<int(std::ostream&, std::ostream&)> run;
};

void add_check(CLI::App& app, Asked& asked) {
  CLI::App* command =
      app.add_subcommand("check", "List every mistake in a shop sheet, with its place");
  command->add_option("sheet", asked.check.sheet, "Shop sheet (*.textproto)")->required();
  command->add_option("--session", asked.check.sessions, "Check a session file too; repeatable")
      ->allow_extra_args(false);
  command->add_option("--state", asked.check.state, "Check a state file too");
  command->callback([&asked] {
    asked.run = [&asked](std::ostream& out, std::ostream& err) {
      return check_command(asked.check, out, err);
    };
  });
}

void add_wind_down(CLI::App& app, Asked& asked) {
  CLI::App* command = app.add_subcommand(
      "wind-down", "What to clean after a session: where, with what, how long, in which order");
  add_session_options(*command, asked.session);
  command->add_flag("--json", asked.json, "Answer as JSON (message chipfall.proto.WindDown)");
  command->callback([&asked] {
    asked.run = [&asked](std::ostream& out, std::ostream& err) {
      return wind_down_command(asked.session, asked.json, out, err);
    };
  });
}

void add_drawing(CLI::App& app, Asked& asked, const char* name, const char* help,
                 const char* out_help, bool map) {
  CLI::App* command = app.add_subcommand(name, help);
  add_session_options(*command, asked.session);
  command->add_option("--out", asked.out, out_help)->required();
  command->callback([&asked, map] {
    asked.run = [&asked, map](std::ostream& out, std::ostream& err) {
      return drawing_command(asked.session, asked.out, map, out, err);
    };
  });
}

}  // namespace

int run(int argc, const char* const* argv, std::ostream& out, std::ostream& err) {
  try {
    CLI::App app("Closing duties for a community woodshop, sized to the dust that was made.",
                 "chipfall");
    Asked asked;
    app.set_version_flag("--version", kVersion);
    app.footer(kFooter);
    app.require_subcommand(1);
    add_check(app, asked);
    add_wind_down(app, asked);
    add_drawing(app, asked, "map", "Draw where a session's dust fell",
                "File to write: .svg, .png or .pdf", true);
    add_drawing(app, asked, "sheet", "Print a session's list on one page",
                "File to write: .pdf, .svg or .png", false);
    try {
      app.parse(argc, argv);
    } catch (const CLI::ParseError& error) {
      return app.exit(error, out, err) == 0 ? kDone : kUsage;
    }
    const int code = asked.run(out, err);
    out.flush();
    if (out) return code;
    err << "standard output: could not be written; is the disk full or the pipe closed?\n";
    return kNotWritten;
  } catch (const std::exception& error) {
    err << "chipfall: " << error.what() << "\n";
    return kNotWritten;
  }
}

}  // namespace chipfall
