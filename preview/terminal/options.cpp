#include "preview/terminal/options.h"

#include <charconv>
#include <functional>

#include <fmt/format.h>

#include "preview/terminal/files.h"
#include "preview/terminal/saying.h"

namespace chipfall {
namespace {

std::vector<std::string> split(const std::string& text, char at) {
  std::vector<std::string> parts{""};
  for (char c : text) {
    if (c == at) {
      parts.emplace_back();
    } else {
      parts.back() += c;
    }
  }
  return parts;
}

/// `table-saw:20:red-oak` or `table-saw:20:red-oak:off`.
bool read_use(const std::string& text, proto::Use& use, Errors& errors) {
  const std::vector<std::string> parts = split(text, ':');
  double minutes = 0;
  const bool whole = parts.size() == 3 || parts.size() == 4;
  if (whole) {
    const char* end = parts[1].data() + parts[1].size();
    const auto [stop, code] = std::from_chars(parts[1].data(), end, minutes);
    if (code != std::errc() || stop != end) {
      errors.push_back(
          flag_error("--use " + text, fmt::format("\"{}\" is not a number of minutes", parts[1])));
      return false;
    }
  }
  const bool switch_known = parts.size() == 3 || (whole && (parts[3] == "on" || parts[3] == "off"));
  if (!whole || !switch_known) {
    errors.push_back(flag_error("--use " + text,
                                "give machine:minutes:stock, and :off when its extraction was off, "
                                "as in table-saw:20:red-oak:off"));
    return false;
  }
  use.set_machine(parts[0]);
  use.set_minutes(minutes);
  use.set_stock(parts[2]);
  if (parts.size() == 4) use.set_extraction(parts[3] == "on");
  return true;
}

Errors put_flags(const SessionOptions& options, proto::Session& session) {
  Errors errors;
  for (const std::string& text : options.used) read_use(text, *session.add_uses(), errors);
  if (options.people != 0) session.set_people(options.people);
  if (!options.leave.empty()) session.set_leave_at(options.leave);
  for (const std::string& gate : options.open_gates) session.add_gates_left_open(gate);
  if (options.oily_rags) session.set_oily_rags(true);
  if (options.glue) session.set_glue(true);
  return errors;
}

/// `uses[2].stock` of a session made from flags is the third --use.
Error at_flag(Error error, const SessionOptions& options) {
  const std::string& path = error.place.path;
  if (path.starts_with("uses[")) {
    const size_t index = static_cast<size_t>(std::stoul(path.substr(5)));
    if (index < options.used.size()) error.place.file = "--use " + options.used[index];
  } else if (path.starts_with("people")) {
    error.place.file = "--people";
  } else if (path.starts_with("leave_at")) {
    error.place.file = "--leave " + options.leave;
  } else if (path.starts_with("gates_left_open")) {
    error.place.file = "--open-gate";
  }
  return error;
}

/// Reads a file that a flag may name into the request.
Errors read_into(const std::string& path, const std::function<proto::SheetText*()>& into) {
  if (path.empty()) return {};
  const Result<Text> text = read_file(path);
  if (!text) return text.error();
  proto::SheetText& put = *into();
  put.set_name(text->name);
  put.set_content(text->content);
  return {};
}

}  // namespace

void add_session_options(CLI::App& command, SessionOptions& options) {
  command.add_option("session", options.session, "Session file (*.textproto); or use --use");
  command
      .add_option("--use", options.used,
                  "What was used: machine:minutes:stock, with :off when its extraction was off; "
                  "may be repeated")
      ->allow_extra_args(false);
  command.add_flag("--extraction-off", options.extraction_off, "All extraction was off");
  command.add_option("--people", options.people, "How many clean up together");
  command.add_option("--leave", options.leave, "When you want to leave, HH:MM in the shop's time");
  command.add_option("--state", options.state,
                     "What earlier sessions left: bins' fills, dust on zones (*.textproto)");
  command.add_option("--open-gate", options.open_gates, "A gate found open; may be repeated")
      ->allow_extra_args(false);
  command.add_flag("--oily-rags", options.oily_rags, "Oil was wiped on: rags need their can");
  command.add_flag("--glue", options.glue, "There was a glue-up");
  command
      .add_option("--within", options.within_minutes,
                  "Only so many minutes: the dearest duties that fit, the rest passed on")
      ->check(CLI::Range(1.0, 1440.0));
  command.add_option("--now", options.now,
                     "Plan anew from now: who is there, what is done, what broke (*.textproto)");
}

Result<proto::PlanWindDown> plan_asked(const SessionOptions& options) {
  if (options.session.empty() && options.used.empty()) {
    return tl::unexpected(Errors{flag_error(
        "session", "say what was used: a session file, or --use machine:minutes:stock")});
  }
  if (!options.session.empty() && !options.used.empty()) {
    return tl::unexpected(Errors{
        flag_error("--use", "a session file says what was used already; give one or the other")});
  }
  proto::PlanWindDown plan;
  plan.mutable_draft()->set_id("tonight");
  plan.mutable_draft()->set_name("Tonight");
  Errors errors = put_flags(options, *plan.mutable_draft());
  if (!errors.empty()) return tl::unexpected(errors);
  plan.set_extraction_off(options.extraction_off);
  if (options.within_minutes > 0) plan.set_within_minutes(options.within_minutes);
  errors = read_into(options.session, [&] { return plan.mutable_session_file(); });
  if (errors.empty()) errors = read_into(options.state, [&] { return plan.mutable_state_file(); });
  if (errors.empty()) errors = read_into(options.now, [&] { return plan.mutable_now_file(); });
  if (!errors.empty()) return tl::unexpected(errors);
  return plan;
}

Errors at_flags(Errors errors, const SessionOptions& options) {
  for (Error& error : errors) {
    // Those of a file know its name.
    if (error.place.file.empty()) error = at_flag(std::move(error), options);
  }
  return errors;
}

void add_ledger_option(CLI::App& command, std::string& folder) {
  command
      .add_option("--ledger", folder,
                  "Folder that remembers what is recorded; else CHIPFALL_LEDGER says which")
      ->envname("CHIPFALL_LEDGER");
}

}  // namespace chipfall
