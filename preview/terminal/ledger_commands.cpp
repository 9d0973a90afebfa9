#include "preview/terminal/ledger_commands.h"

#include <cerrno>
#include <cstring>
#include <fstream>
#include <memory>
#include <ostream>

#include <fmt/format.h>

#include "preview/terminal/answering.h"
#include "preview/terminal/options.h"

namespace chipfall {
namespace {

struct Asked {
  std::string ledger;
  bool json = false;
  unsigned most = 50;
  proto::ExportRecord export_record;
  std::string out;
};
std::string capital(std::string text) {
  if (!text.empty() && text[0] >= 'a' && text[0] <= 'z') text[0] = static_cast<char>(text[0] - 32);
  return text;
}

Result<proto::Response> ask(const Asked& asked, const proto::Request& request) {
  Result<DoorClient> door = open_ledger(asked.ledger, true);
  if (!door) return tl::unexpected(door.error());
  return door->ask(request);
}

std::string standing_text(const proto::Standing& standing) {
  std::string text;
  const auto to = std::back_inserter(text);
  for (const proto::StandingDuty& duty : standing.duties()) {
    const std::string& title = duty.owed().title().empty() ? duty.owed().id() : duty.owed().title();
    fmt::format_to(to, "{} since {}: {}", capital(duty.ending()), duty.since(), title);
    if (duty.owed().safety()) fmt::format_to(to, ", for safety");
    if (!duty.reason().empty()) fmt::format_to(to, " ({})", duty.reason());
    fmt::format_to(to, "\n    {}\n", duty.owed().id());
  }
  for (const proto::OutNotice& notice : standing.machines_out()) {
    fmt::format_to(to, "Out of order since {}: {}", notice.since(), notice.name());
    if (!notice.reason().empty()) fmt::format_to(to, " ({})", notice.reason());
    fmt::format_to(to, "\n    {}\n", notice.machine());
  }
  for (const proto::SupplyState& supply : standing.supplies()) {
    if (supply.low())
      fmt::format_to(to, "Running low since {}: {}\n", supply.since(), supply.supply());
  }
  return text.empty() ? "Nothing is open, out of order or running low.\n" : text;
}

int standing_command(const Asked& asked, std::ostream& out, std::ostream& err) {
  proto::Request request;
  request.mutable_standing();
  const Result<proto::Response> response = ask(asked, request);
  if (!response) return explain(response.error(), err, kMistakes);
  const proto::Standing& standing = response->standing();
  out << (asked.json ? json_text(standing) : standing_text(standing));
  return kDone;
}

std::string history_text(const proto::History& history) {
  if (history.lines().empty()) return "Nothing is recorded yet.\n";
  std::string text;
  const auto to = std::back_inserter(text);
  std::string day;
  for (const proto::HistoryLine& line : history.lines()) {
    if (line.day() != day) fmt::format_to(to, "{}\n", capital(line.day()));
    day = line.day();
    fmt::format_to(to, "  {}  {}", line.time(), line.text());
    if (!line.member().empty()) fmt::format_to(to, " - {}", line.member());
    if (line.doubtful()) fmt::format_to(to, " [time uncertain]");
    text += '\n';
  }
  if (history.has_next()) {
    fmt::format_to(to, "There is more: chipfall history --most {}\n", 2 * history.lines_size());
  }
  return text;
}

/// Page by page, as the door gives them, until there are as many as asked for.
int history_command(const Asked& asked, std::ostream& out, std::ostream& err) {
  Result<DoorClient> door = open_ledger(asked.ledger, true);
  if (!door) return explain(door.error(), err, kMistakes);
  proto::History all;
  for (;;) {
    proto::Request request;
    proto::ReadHistory& page = *request.mutable_history();
    page.set_most(asked.most - static_cast<unsigned>(all.lines_size()));
    if (all.has_next()) *page.mutable_before() = all.next();
    const Result<proto::Response> response = door->ask(request);
    if (!response) return explain(response.error(), err, kMistakes);
    all.clear_next();
    all.MergeFrom(response->history());
    if (!all.has_next() || static_cast<unsigned>(all.lines_size()) >= asked.most) break;
  }
  out << (asked.json ? json_text(all) : history_text(all));
  return kDone;
}

int write_file(const std::string& path, const std::string& content, std::ostream& err) {
  errno = 0;
  std::ofstream file(path, std::ios::binary);
  file << content;
  file.close();
  if (file) return kDone;
  err << fmt::format("{}: could not be written: {}\n", path, std::strerror(errno));
  return kNotWritten;
}

int export_command(const Asked& asked, std::ostream& out, std::ostream& err) {
  proto::Request request;
  *request.mutable_export_record() = asked.export_record;
  Result<proto::Response> response = ask(asked, request);
  if (!response) {
    Errors errors = response.error();
    for (Error& error : errors) {
      if (error.place.path == "from_day") error.place = {"--from", 0, 0, ""};
      if (error.place.path == "until_day") error.place = {"--until", 0, 0, ""};
    }
    return explain(errors, err, kMistakes);
  }
  const proto::Exported& exported = response->exported();
  const std::string content = asked.json ? json_text(exported) : exported.csv();
  if (asked.out.empty()) {
    out << content;
    return kDone;
  }
  const int code = write_file(asked.out, content, err);
  if (code == kDone) out << asked.out << "\n";
  return code;
}

}  // namespace

Result<DoorClient> open_ledger(const std::string& folder, bool must_exist) {
  if (folder.empty()) {
    return tl::unexpected(Errors{flag_error(
        "--ledger",
        "say where things are recorded: --ledger FOLDER, or set CHIPFALL_LEDGER to it")});
  }
  return DoorClient::open(folder, must_exist);
}

void add_ledger_commands(CLI::App& app, Command& chosen) {
  add_answering(app, chosen, "standing", "What is open, out of order and running low", "Standing",
                std::make_shared<Asked>(), standing_command);
  const auto history = std::make_shared<Asked>();
  add_answering(app, chosen, "history", "What was recorded, newest first, in the shop's time",
                "History", history, history_command)
      .add_option("--most", history->most, "So many lines at most")
      ->check(CLI::Range(1, 1'000'000));
  const auto exported = std::make_shared<Asked>();
  CLI::App& command = add_answering(
      app, chosen, "export", "The housekeeping record as CSV, for an insurer or an inspector",
      "Exported", exported, export_command);
  command.add_option_function<std::string>(
      "--from", [exported](const std::string& day) { exported->export_record.set_from_day(day); },
      "First day, YYYY-MM-DD in the shop's time");
  command.add_option_function<std::string>(
      "--until", [exported](const std::string& day) { exported->export_record.set_until_day(day); },
      "Last day");
  command.add_flag_function(
      "--members", [exported](std::int64_t) { exported->export_record.set_member_names(true); },
      "With the names of members; else nobody is named");
  command.add_option("--out", exported->out, "File to write; else standard output");
}

}  // namespace chipfall
