#include "preview/terminal/evening_commands.h"

#include <memory>
#include <ostream>

#include <fmt/format.h>

#include "preview/terminal/answering.h"
#include "preview/terminal/bins_text.h"
#include "preview/terminal/ledger_commands.h"
#include "preview/terminal/lock_up_text.h"
#include "preview/terminal/options.h"
#include "preview/terminal/round_text.h"

namespace chipfall {
namespace {

struct Asked {
  std::string ledger;
  bool json = false;
  proto::AskLockUp lock_up;
  proto::AskCoordinator coordinator;
};

/// Mistakes in what was typed, located by the flag.
Errors at_flags_of(Errors errors) {
  for (Error& error : errors) {
    if (error.place.path == "people") error.place = {"--people", 0, 0, ""};
    if (error.place.path == "begin_at") error.place = {"--begin", 0, 0, ""};
    if (error.place.path == "within_minutes") error.place = {"--within", 0, 0, ""};
    if (error.place.path == "next_round_days") error.place = {"--next-round", 0, 0, ""};
  }
  return errors;
}

Result<proto::Response> ask(const Asked& asked, const proto::Request& request) {
  Result<DoorClient> door = open_ledger(asked.ledger, true);
  if (!door) return tl::unexpected(door.error());
  Result<proto::Response> response = door->ask(request);
  if (!response) return tl::unexpected(at_flags_of(response.error()));
  return response;
}

int lock_up_command(const Asked& asked, std::ostream& out, std::ostream& err) {
  proto::Request request;
  *request.mutable_lock_up() = asked.lock_up;
  const Result<proto::Response> response = ask(asked, request);
  if (!response) return explain(response.error(), err, kMistakes);
  const proto::LockUp& list = response->lock_up();
  out << (asked.json ? json_text(list) : lock_up_text(list, columns()));
  return kDone;
}

int bins_command(const Asked& asked, std::ostream& out, std::ostream& err) {
  proto::Request request;
  *request.mutable_bins() = asked.coordinator;
  const Result<proto::Response> response = ask(asked, request);
  if (!response) return explain(response.error(), err, kMistakes);
  out << (asked.json ? json_text(response->bins()) : bins_text(response->bins(), columns()));
  return kDone;
}

int round_command(const Asked& asked, std::ostream& out, std::ostream& err) {
  proto::Request request;
  *request.mutable_round() = asked.coordinator;
  const Result<proto::Response> response = ask(asked, request);
  if (!response) return explain(response.error(), err, kMistakes);
  out << (asked.json ? json_text(response->round()) : round_text(response->round(), columns()));
  return kDone;
}

int overview_command(const Asked& asked, std::ostream& out, std::ostream& err) {
  proto::Request request;
  *request.mutable_coordinator() = asked.coordinator;
  const Result<proto::Response> response = ask(asked, request);
  if (!response) return explain(response.error(), err, kMistakes);
  const proto::Coordinator& answer = response->coordinator();
  out << (asked.json ? json_text(answer) : coordinator_text(answer, columns()));
  return kDone;
}

void add_next_round(CLI::App& command, const std::shared_ptr<Asked>& asked) {
  command.add_option_function<int>(
      "--next-round", [asked](int days) { asked->coordinator.set_next_round_days(days); },
      "Days until the next round: what will be full by then comes along");
}

}  // namespace

void add_evening_commands(CLI::App& app, Command& chosen) {
  const auto closing = std::make_shared<Asked>();
  CLI::App& lock_up =
      add_answering(app, chosen, "lock-up",
                    "What is left over and the building's closing duties, in walking order",
                    "LockUp", closing, lock_up_command);
  lock_up.add_option_function<int>(
      "--people", [closing](int people) { closing->lock_up.set_people(people); },
      "How many close together");
  lock_up.add_option_function<std::string>(
      "--begin", [closing](const std::string& at) { closing->lock_up.set_begin_at(at); },
      "When you begin, HH:MM in the shop's time");
  lock_up.add_option_function<double>(
      "--within", [closing](double minutes) { closing->lock_up.set_within_minutes(minutes); },
      "Only so many minutes: what was left over waits where it must");
  lock_up
      .add_option_function<std::vector<std::string>>(
          "--done",
          [closing](const std::vector<std::string>& ids) {
            for (const std::string& id : ids) closing->lock_up.add_done(id);
          },
          "A duty that is done already; may be repeated")
      ->allow_extra_args(false);
  const auto bins = std::make_shared<Asked>();
  add_answering(app, chosen, "bins", "How full each bin is likely to be, and when it will be full",
                "Bins", bins, bins_command);
  const auto round = std::make_shared<Asked>();
  add_next_round(add_answering(app, chosen, "round", "Which bins to empty now, in which order",
                               "Round", round, round_command),
                 round);
  const auto overview = std::make_shared<Asked>();
  add_next_round(
      add_answering(app, chosen, "overview", "Everything that the coordinator should know",
                    "Coordinator", overview, overview_command),
      overview);
}

}  // namespace chipfall
