#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include "core/duty/say.h"
#include "preview/window/screens.h"

namespace chipfall::window {
namespace {

constexpr double kFirstGuess_minutes = 15;
constexpr double kMost_minutes = 600;
constexpr double kStep_minutes = 5;

const proto::Use* used(const proto::Session& session, const std::string& machine) {
  for (const proto::Use& use : session.uses()) {
    if (use.machine() == machine) return &use;
  }
  return nullptr;
}

std::string stock_name(const Phone& phone, const std::string& id) {
  for (const proto::Named& stock : phone.shop.stocks()) {
    if (stock.id() == id) return stock.name();
  }
  return id;
}

const proto::MachineNamed* machine_of(const Phone& phone, const std::string& id) {
  for (const proto::MachineNamed& machine : phone.shop.machines()) {
    if (machine.id() == id) return &machine;
  }
  return nullptr;
}

/// As it was the last time; else with the stock that was chosen last; else it is to be chosen.
void add_use(Phone& phone, const proto::MachineNamed& machine) {
  proto::Session& draft = phone.member.draft;
  std::string stock = machine.last().stock();
  if (stock.empty() && draft.uses_size() > 0) stock = draft.uses(draft.uses_size() - 1).stock();
  proto::Use& use = *draft.add_uses();
  use.set_machine(machine.id());
  use.set_stock(stock);
  const bool known = machine.last().own() && machine.last().minutes() >= kStep_minutes;
  use.set_minutes(known ? kStep_minutes * std::round(machine.last().minutes() / kStep_minutes)
                        : kFirstGuess_minutes);
}

std::string use_words(const Phone& phone, const proto::Use& use, bool extraction) {
  std::string out = say_minutes(use.minutes());
  if (!use.stock().empty()) out += fmt::format(" in {}", stock_name(phone, use.stock()));
  if (extraction && use.has_extraction() && !use.extraction()) out += ", extraction off";
  return out;
}

void machine_row(Pen& pen, Phone& phone, const proto::MachineNamed& machine) {
  const proto::Use* use = used(phone.member.draft, machine.id());
  std::string words = machine.out() ? "Out of order, please leave it off" : machine.kind();
  if (words == machine.name()) words.clear();
  if (use != nullptr) words = use_words(phone, *use, machine.extraction());
  const Icon icon = use != nullptr ? Icon::kCheck : Icon::kPlus;
  if (!pen.row("machines/" + machine.id(), machine.name(), words, icon, use != nullptr)) return;
  if (use == nullptr) add_use(phone, machine);
  for (int i = 0; i < phone.member.draft.uses_size(); ++i) {
    if (phone.member.draft.uses(i).machine() == machine.id()) phone.member.use = i;
  }
  phone.go(Screen::kUse);
}

}  // namespace

void machines_screen(Pen& pen, Phone& phone) {
  if (pen.head("What did you run?", "machines/back")) return phone.back();
  pen.body(phone.scrolls[Screen::kMachines]);
  trouble_part(pen, phone);
  if (!phone.shop_known) pen.text(waiting_words(phone));
  const auto own = [&](const std::string& id) {
    const proto::MachineNamed* machine = machine_of(phone, id);
    return machine != nullptr && machine->last().own();
  };
  const bool any_own = std::ranges::any_of(phone.shop.machines_by_use(), own);
  if (any_own) pen.text("Used before", Face::kBold, kSoftInk);
  bool others = !any_own;
  for (const std::string& id : phone.shop.machines_by_use()) {
    if (!others && !own(id)) {
      others = true;
      pen.gap(6);
      pen.text("All others", Face::kBold, kSoftInk);
    }
    pen.gap(2);
    if (const proto::MachineNamed* machine = machine_of(phone, id))
      machine_row(pen, phone, *machine);
  }
  pen.foot();
  const int chosen = phone.member.draft.uses_size();
  const std::string label =
      chosen == 0 ? "Nothing run? Go on all the same"
                  : fmt::format("Next, with {} machine{}", chosen, chosen == 1 ? "" : "s");
  if (pen.button({"machines/next", label, chosen == 0 ? Look::kPlain : Look::kMain, Icon::kNext})) {
    phone.go(Screen::kCrew);
    phone.plan();
  }
}

void use_screen(Pen& pen, Phone& phone) {
  MemberState& member = phone.member;
  if (member.use >= member.draft.uses_size()) return phone.back();
  proto::Use& use = *member.draft.mutable_uses(member.use);
  const proto::MachineNamed* machine = machine_of(phone, use.machine());
  if (pen.head(machine != nullptr ? machine->name() : use.machine(), "use/back")) {
    return phone.back();
  }
  pen.body(phone.scrolls[Screen::kUse]);
  trouble_part(pen, phone);
  if (machine != nullptr && machine->out()) {
    pen.care("The shop's record says so. Please leave it off until someone who knows has looked.",
             "Out of order");
  }
  pen.card();
  pen.text("How long did it run?", Face::kBold);
  pen.gap(6);
  const int step = pen.stepper("use/minutes", fmt::format("{:.0f} min", use.minutes()),
                               {-15, -5, 5, 15}, {"-15", "-5", "+5", "+15"});
  if (step != 0) use.set_minutes(std::clamp(use.minutes() + step, 5.0, kMost_minutes));
  pen.card_end();
  pen.text("Cut in", Face::kBold);
  pen.gap(4);
  const bool no_stock = use.stock().empty();
  if (pen.row("use/stock", no_stock ? "Choose the stock" : stock_name(phone, use.stock()),
              no_stock ? "Dust differs from wood to wood" : "Tap for another stock", Icon::kNext)) {
    phone.go(Screen::kStock);
  }
  if (machine != nullptr && machine->extraction()) {
    const bool on = !use.has_extraction() || use.extraction();
    if (pen.toggle("use/extraction", "Dust extraction was on", on)) use.set_extraction(!on);
  }
  pen.foot();
  const int tapped = pen.buttons({{"use/remove", "Take it off", Look::kPlain, Icon::kCross},
                                  {"use/done", "That is it", Look::kMain, Icon::kCheck}});
  if (tapped == 0) member.draft.mutable_uses()->DeleteSubrange(member.use, 1);
  if (tapped == 1 && no_stock) return phone.go(Screen::kStock);
  if (tapped >= 0) phone.back();
}

void stock_screen(Pen& pen, Phone& phone) {
  MemberState& member = phone.member;
  if (member.use >= member.draft.uses_size()) return phone.back();
  proto::Use& use = *member.draft.mutable_uses(member.use);
  if (pen.head("Which stock?", "stock/back")) return phone.back();
  pen.body(phone.scrolls[Screen::kStock]);
  for (const std::string& id : phone.shop.stocks_by_use()) {
    const bool chosen = id == use.stock();
    if (pen.row("stock/" + id, stock_name(phone, id), "", chosen ? Icon::kCheck : Icon::kNone,
                chosen)) {
      use.set_stock(id);
      phone.back();
    }
  }
  pen.foot();
}

}  // namespace chipfall::window
