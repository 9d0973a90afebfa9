#include "preview/terminal/options.h"

#include <charconv>

#include <fmt/format.h>

#include "core/proto/session.pb.h"
#include "core/shop/build.h"
#include "core/shop/check_session.h"
#include "core/shop/load.h"
#include "preview/terminal/files.h"

namespace chipfall {
namespace {

Error flag_error(const std::string& flag, const std::string& message) {
  Error error{ErrorCode::kMistake, message, {}};
  error.place.file = flag;
  return error;
}

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

Result<Session> session_from_flags(const SessionOptions& options, const Shop& shop) {
  proto::Session session;
  session.set_id("tonight");
  session.set_name("Tonight");
  Errors errors = put_flags(options, session);
  if (!errors.empty()) return tl::unexpected(errors);
  for (Error& error : check_session(session, shop)) {
    errors.push_back(at_flag(std::move(error), options));
  }
  if (!errors.empty()) return tl::unexpected(errors);
  return build_session(session, shop);
}

/// A session from its file; people and leaving time may be overruled by flags.
Result<Session> session_from_file(const SessionOptions& options, const Shop& shop) {
  if (!options.used.empty()) {
    return tl::unexpected(Errors{
        flag_error("--use", "a session file says what was used already; give one or the other")});
  }
  const Result<Text> text = read_file(options.session);
  if (!text) return tl::unexpected(text.error());
  Result<Session> session = load_session(*text, shop);
  if (!session) return session;
  // Checked by the same rules as if they stood in a file of their own.
  SessionOptions overruling = options;
  overruling.session.clear();
  const Result<Session> flags = session_from_flags(overruling, shop);
  if (!flags) return flags;
  if (options.people != 0) session->people = flags->people;
  if (!options.leave.empty()) session->leave_at_minute = flags->leave_at_minute;
  session->oily_rags = session->oily_rags || options.oily_rags;
  session->glue = session->glue || options.glue;
  session->gates_left_open.insert(session->gates_left_open.end(), flags->gates_left_open.begin(),
                                  flags->gates_left_open.end());
  return session;
}

}  // namespace

void add_session_options(CLI::App& command, SessionOptions& options) {
  command.add_option("sheet", options.sheet, "Shop sheet (*.textproto)")->required();
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

Result<Request> load_request(const SessionOptions& options) {
  const Result<Text> sheet = read_file(options.sheet);
  if (!sheet) return tl::unexpected(sheet.error());
  Result<Shop> shop = load_shop(*sheet, builtin_library());
  if (!shop) return tl::unexpected(shop.error());
  if (options.session.empty() && options.used.empty()) {
    return tl::unexpected(Errors{flag_error(
        "session", "say what was used: a session file, or --use machine:minutes:stock")});
  }
  Result<Session> session = options.session.empty() ? session_from_flags(options, *shop)
                                                    : session_from_file(options, *shop);
  if (!session) return tl::unexpected(session.error());
  if (options.extraction_off) {
    for (Use& use : session->uses) use.extraction = false;
  }
  ShopState state = clean_state(*shop);
  if (!options.state.empty()) {
    const Result<Text> text = read_file(options.state);
    if (!text) return tl::unexpected(text.error());
    Result<ShopState> read = load_state(*text, *shop);
    if (!read) return tl::unexpected(read.error());
    state = *std::move(read);
  }
  return Request{*std::move(shop), *std::move(session), std::move(state)};
}

}  // namespace chipfall
