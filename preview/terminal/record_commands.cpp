#include "preview/terminal/record_commands.h"

#include <memory>
#include <ostream>

#include <fmt/format.h>

#include "preview/terminal/door_client.h"
#include "preview/terminal/files.h"
#include "preview/terminal/ledger_commands.h"
#include "preview/terminal/list_text.h"
#include "preview/terminal/options.h"
#include "preview/terminal/session_commands.h"

namespace chipfall {
namespace {

/// What every kind of record has, and what it fills in.
struct Recording {
  std::string ledger;
  bool json = false;
  proto::Record record;
  SessionOptions session;  ///< of `record session` alone
  std::string sheet;       ///< of `record sheet` alone
  proto::LoadSheet load;
};
using Shared = std::shared_ptr<Recording>;

/// `done.duty.id` is the argument of `record done`; people need no path to it.
Errors at_command(Errors errors, const std::string& name) {
  for (Error& error : errors) {
    if (!error.place.file.empty()) continue;
    error.place.file = "record " + name;
    error.place.path.clear();
  }
  return errors;
}

int say_recorded(const proto::Recorded& recorded, bool json, std::ostream& out) {
  if (json) {
    out << json_text(recorded);
    return kDone;
  }
  out << "Saved: " << recorded.text() << "\n";
  if (recorded.has_list()) out << "\n" << list_text(recorded.list(), columns());
  return kDone;
}

int record(const Recording& asked, const std::string& name, std::ostream& out, std::ostream& err) {
  Result<DoorClient> door = open_ledger(asked.ledger, true);
  if (!door) return explain(door.error(), err, kMistakes);
  proto::Request request;
  *request.mutable_record() = asked.record;
  const Result<proto::Response> response = door->ask(request);
  if (!response) return explain(at_command(response.error(), name), err, kMistakes);
  return say_recorded(response->recorded(), asked.json, out);
}

/// The machine is back for somebody who saw why it was out: shows that, and names it.
int record_back(Recording asked, std::ostream& out, std::ostream& err) {
  Result<DoorClient> door = open_ledger(asked.ledger, true);
  if (!door) return explain(door.error(), err, kMistakes);
  proto::Request request;
  request.mutable_standing();
  const Result<proto::Response> standing = door->ask(request);
  if (!standing) return explain(standing.error(), err, kMistakes);
  proto::MachineBack& back = *asked.record.mutable_machine_back();
  std::string was;
  for (const proto::OutNotice& notice : standing->standing().machines_out()) {
    if (notice.machine() != back.machine()) continue;
    *back.mutable_seen() = notice.entry();
    was = fmt::format("It was out of order since {}: {}\n", notice.since(),
                      notice.reason().empty() ? "no reason given" : notice.reason());
  }
  *request.mutable_record() = asked.record;
  const Result<proto::Response> response = door->ask(request);
  if (!response) return explain(at_command(response.error(), "back"), err, kMistakes);
  const int code = say_recorded(response->recorded(), asked.json, out);
  if (!asked.json) out << was;
  return code;
}

int record_session(const Recording& asked, std::ostream& out, std::ostream& err) {
  Result<DoorClient> door = open_ledger(asked.ledger, true);
  if (!door) return explain(door.error(), err, kMistakes);
  Result<proto::PlanWindDown> plan = plan_asked(asked.session);
  if (!plan) return explain(plan.error(), err, kMistakes);
  proto::Request request;
  *request.mutable_record() = asked.record;
  *request.mutable_record()->mutable_session() = *std::move(plan);
  const Result<proto::Response> response = door->ask(request);
  if (!response) {
    return explain(at_command(at_flags(response.error(), asked.session), "session"), err,
                   kMistakes);
  }
  return say_recorded(response->recorded(), asked.json, out);
}

int record_sheet(const Recording& asked, std::ostream& out, std::ostream& err) {
  const Result<Text> text = read_file(asked.sheet);
  if (!text) return explain(text.error(), err, kMistakes);
  Result<DoorClient> door = open_ledger(asked.ledger, false);
  if (!door) return explain(door.error(), err, kMistakes);
  proto::LoadSheet load = asked.load;
  load.set_keep(true);
  load.set_member(asked.record.member());
  const auto loaded = load_sheet(*door, *text, load);
  if (!loaded) return explain(loaded.error(), err, kMistakes);
  if (asked.json) {
    out << json_text(*loaded);
  } else {
    out << (loaded->kept() ? "Saved: the shop sheet of " : "Already kept: the shop sheet of ")
        << loaded->shop() << "\n";
  }
  return kDone;
}

/// One kind of `record`; `work` runs when its line was read.
class Kinds {
 public:
  Kinds(CLI::App& record, Command& chosen) : record_(&record), chosen_(&chosen) {}

  template <typename Work>
  CLI::App& add(const char* name, const char* help, const Shared& asked, Work work) {
    CLI::App* kind = record_->add_subcommand(name, help);
    add_ledger_option(*kind, asked->ledger);
    kind->add_flag("--json", asked->json, "Answer as JSON (message chipfall.proto.Recorded)");
    kind->add_option_function<std::string>(
        "--member", [asked](const std::string& who) { asked->record.set_member(who); },
        "Who records it; may be left out");
    if (std::string_view(name) != "sheet") {
      kind->add_option_function<std::string>(
          "--at", [asked](const std::string& at) { asked->record.set_at(at); },
          "When it happened, the last HH:MM in the shop's time; else now");
    }
    kind->callback([asked, work, chosen = chosen_] {
      *chosen = [asked, work](std::ostream& out, std::ostream& err) {
        return work(*asked, out, err);
      };
    });
    return *kind;
  }

  CLI::App& add(const char* name, const char* help, const Shared& asked) {
    return add(name, help, asked,
               [name](const Recording& recording, std::ostream& out, std::ostream& err) {
                 return record(recording, name, out, err);
               });
  }

 private:
  CLI::App* record_;
  Command* chosen_;
};

Shared recording() { return std::make_shared<Recording>(); }

/// A text that goes straight into a field of the record.
template <typename Put>
CLI::Option* text(CLI::App& kind, const Shared& asked, const char* name, const char* help,
                  Put put) {
  return kind.add_option_function<std::string>(
      name, [asked, put](const std::string& value) { put(asked->record, value); }, help);
}

template <typename Put>
CLI::Option* number(CLI::App& kind, const Shared& asked, const char* name, const char* help,
                    Put put) {
  return kind.add_option_function<double>(
      name, [asked, put](double value) { put(asked->record, value); }, help);
}

void add_duties(Kinds& kinds) {
  const char* duty = "The duty's id, as `chipfall standing` shows it";
  const Shared done = recording();
  CLI::App& kind = kinds.add("done", "A duty is done", done);
  using proto::Record;
  text(kind, done, "duty", duty, [](Record& record, const std::string& id) {
    record.mutable_done()->mutable_duty()->set_id(id);
  })->required();
  number(kind, done, "--minutes", "How long it took; the shop's own minutes are learned from it",
         [](Record& record, double minutes) { record.mutable_done()->set_minutes(minutes); });
  kind.add_option_function<int>(
      "--people", [done](int people) { done->record.mutable_done()->set_people(people); },
      "How many did it");
  const Shared passed = recording();
  CLI::App& pass =
      kinds.add("pass-on", "A duty is left for somebody else, with the reason", passed);
  text(pass, passed, "duty", duty, [](Record& record, const std::string& id) {
    record.mutable_passed_on()->mutable_duty()->set_id(id);
  })->required();
  text(pass, passed, "--reason", "Why: no time, no tool, not safe, not able, or other words",
       [](Record& record, const std::string& why) { record.mutable_passed_on()->set_reason(why); })
      ->required();
  const Shared no_need = recording();
  CLI::App& not_needed = kinds.add("not-needed", "A duty needs no doing", no_need);
  text(not_needed, no_need, "duty", duty, [](Record& record, const std::string& id) {
    record.mutable_not_needed()->mutable_duty()->set_id(id);
  })->required();
  text(not_needed, no_need, "--reason", "Why", [](Record& record, const std::string& why) {
    record.mutable_not_needed()->set_reason(why);
  });
  const Shared again = recording();
  CLI::App& reopen = kinds.add("reopen", "A duty was ended by mistake and is open again", again);
  text(reopen, again, "duty", duty, [](Record& record, const std::string& id) {
    record.mutable_reopened()->mutable_duty()->set_id(id);
  })->required();
  text(reopen, again, "--reason", "Why",
       [](Record& record, const std::string& why) { record.mutable_reopened()->set_reason(why); });
}

void add_places(Kinds& kinds) {
  using proto::Record;
  const Shared seen = recording();
  CLI::App& bin = kinds.add("bin", "How full a bin was seen to be", seen);
  text(bin, seen, "bin", "The bin's id", [](Record& record, const std::string& id) {
    record.mutable_bin_seen()->set_bin(id);
  })->required();
  text(bin, seen, "seen", "room, half, full, or \"weak pull\"",
       [](Record& record, const std::string& what) { record.mutable_bin_seen()->set_seen(what); })
      ->required();
  const Shared empty = recording();
  CLI::App& emptied = kinds.add("emptied", "A bin was emptied", empty);
  text(emptied, empty, "bin", "The bin's id", [](Record& record, const std::string& id) {
    record.mutable_bin_emptied()->set_bin(id);
  })->required();
  emptied.add_flag_function(
      "--new-bag",
      [empty](std::int64_t) { empty->record.mutable_bin_emptied()->set_bag_replaced(true); },
      "Its bag was replaced");
  const Shared dirt = recording();
  CLI::App& zone = kinds.add("zone", "A zone is dirtier or cleaner than the list expected", dirt);
  text(zone, dirt, "zone", "The zone's id, or open-floor",
       [](Record& record, const std::string& id) {
         record.mutable_zone_seen()->set_zone(id == "open-floor" ? "" : id);
       })
      ->required();
  text(zone, dirt, "seen", "dirtier or cleaner", [](Record& record, const std::string& what) {
    record.mutable_zone_seen()->set_seen(what);
  })->required();
}

void add_machines(Kinds& kinds) {
  using proto::Record;
  const Shared broken = recording();
  CLI::App& out = kinds.add("out", "A machine is out of order", broken);
  text(out, broken, "machine", "The machine's id", [](Record& record, const std::string& id) {
    record.mutable_machine_out()->set_machine(id);
  })->required();
  text(out, broken, "--reason", "What is wrong", [](Record& record, const std::string& why) {
    record.mutable_machine_out()->set_reason(why);
  });
  const Shared mended = recording();
  CLI::App& back = kinds.add("back", "A machine is back in service: you saw what was wrong with it",
                             mended, record_back);
  text(back, mended, "machine", "The machine's id", [](Record& record, const std::string& id) {
    record.mutable_machine_back()->set_machine(id);
  })->required();
  text(back, mended, "--note", "What was mended", [](Record& record, const std::string& what) {
    record.mutable_machine_back()->set_note(what);
  });
}

void add_rest(Kinds& kinds) {
  using proto::Record;
  const Shared scarce = recording();
  CLI::App& low = kinds.add("low", "A supply runs low", scarce);
  text(low, scarce, "supply", "What", [](Record& record, const std::string& what) {
    record.mutable_supply_low()->set_supply(what);
  })->required();
  number(low, scarce, "--left", "How much is left",
         [](Record& record, double left) { record.mutable_supply_low()->set_left(left); });
  const Shared plenty = recording();
  CLI::App& restocked = kinds.add("restocked", "A supply was restocked", plenty);
  text(restocked, plenty, "supply", "What", [](Record& record, const std::string& what) {
    record.mutable_supply_restocked()->set_supply(what);
  })->required();
  number(restocked, plenty, "--added", "How much came",
         [](Record& record, double added) { record.mutable_supply_restocked()->set_added(added); });
  const Shared words = recording();
  CLI::App& note = kinds.add("note", "Something that others should read", words);
  text(note, words, "text", "What", [](Record& record, const std::string& what) {
    record.mutable_note()->set_text(what);
  })->required();
  text(note, words, "--place", "Id of a zone, machine or bin",
       [](Record& record, const std::string& id) { record.mutable_note()->set_place(id); });
  const Shared locked = recording();
  locked->record.mutable_shop_closed();
  CLI::App& closed = kinds.add("closed", "The shop is locked, with whatever is still open", locked);
  text(closed, locked, "--note", "For whoever comes next",
       [](Record& record, const std::string& what) {
         record.mutable_shop_closed()->set_note(what);
       });
}

}  // namespace

void add_record_commands(CLI::App& app, Command& chosen) {
  CLI::App* record = app.add_subcommand(
      "record", "Write down what happened: a session, a duty done, a full bin ...");
  record->require_subcommand(1);
  Kinds kinds(*record, chosen);
  const Shared sheet = recording();
  CLI::App& keep = kinds.add("sheet", "Keep a shop sheet: the records are checked against it",
                             sheet, record_sheet);
  keep.add_option("sheet", sheet->sheet, "Shop sheet (*.textproto)")->required();
  keep.add_option_function<std::string>(
      "--revision", [sheet](const std::string& name) { sheet->load.set_revision(name); },
      "Your name for this version of it");
  const Shared session = recording();
  add_session_options(kinds.add("session", "The tools are down: answers with the list and keeps it",
                                session, record_session),
                      session->session);
  add_duties(kinds);
  add_places(kinds);
  add_machines(kinds);
  add_rest(kinds);
}

}  // namespace chipfall
