#include <algorithm>

#include <fmt/format.h>

#include "core/door/recording.h"

/// What people saw and did beside their lists: bins, zones, machines, supplies, notes.
namespace chipfall {
namespace {

void check_seen(const Spot& at, const std::string& seen, const std::vector<std::string>& words) {
  if (std::ranges::find(words, seen) != words.end()) return;
  at.mistake(seen.empty() ? fmt::format("missing: give {}", one_of(words))
                          : fmt::format("{} is not something to see there; {}{}", in_quotes(seen),
                                        one_of(words), did_you_mean(seen, words)));
}

void check_amount(const Spot& at, bool given, double amount) {
  if (given) check_range(at, amount, 0, kMostSupply);
}

}  // namespace

void record_bin_seen(Recording& now) {
  const Spot at = now.at()["bin_seen"];
  *now.out.entry.mutable_bin_seen() = now.asked.bin_seen();
  check_reference(at["bin"], now.asked.bin_seen().bin(), known("a bin", now.open.shop.bins));
  check_seen(at["seen"], now.asked.bin_seen().seen(), {"room", "half", "full", "weak pull"});
}

void record_emptied(Recording& now) {
  *now.out.entry.mutable_bin_emptied() = now.asked.bin_emptied();
  check_reference(now.at()["bin_emptied"]["bin"], now.asked.bin_emptied().bin(),
                  known("a bin", now.open.shop.bins));
}

void record_zone(Recording& now) {
  const Spot at = now.at()["zone_seen"];
  const proto::ZoneSeen& seen = now.asked.zone_seen();
  *now.out.entry.mutable_zone_seen() = seen;
  if (!seen.zone().empty()) {
    check_reference(at["zone"], seen.zone(), known("a zone", now.open.shop.zones));
  }
  check_seen(at["seen"], seen.seen(), {"dirtier", "cleaner"});
}

void record_out(Recording& now) {
  const Spot at = now.at()["machine_out"];
  *now.out.entry.mutable_machine_out() = now.asked.machine_out();
  check_reference(at["machine"], now.asked.machine_out().machine(),
                  known("a machine", now.open.shop.machines));
  check_words(at["reason"], now.asked.machine_out().reason(), kLongestReason);
}

/// Makes something less safe, so it counts only for somebody who saw why the machine is out.
void record_back(Recording& now) {
  const Spot at = now.at()["machine_back"];
  const proto::MachineBack& back = now.asked.machine_back();
  *now.out.entry.mutable_machine_back() = back;
  check_words(at["note"], back.note(), kLongestReason);
  if (!check_reference(at["machine"], back.machine(), known("a machine", now.open.shop.machines))) {
    return;
  }
  const auto out = now.views.machines_out();
  if (!out) return refuse(now, out.error());
  const auto notice = std::ranges::find(*out, back.machine(), &MachineNotice::machine);
  if (notice == out->end()) {
    at["machine"].mistake(
        fmt::format("{} is not out of order; nothing to take back", in_quotes(back.machine())));
  } else if (!back.has_seen()) {
    at["seen"].mistake("missing: name the notice that you saw; the list of what stands has it");
  } else if (ref_of(back.seen()) != notice->told.entry) {
    at["seen"].mistake(fmt::format("{} was reported out of order again since; read that first: {}",
                                   in_quotes(back.machine()),
                                   notice->reason.empty() ? "no reason given" : notice->reason));
  }
}

void record_low(Recording& now) {
  const Spot at = now.at()["supply_low"];
  const proto::SupplyLow& low = now.asked.supply_low();
  *now.out.entry.mutable_supply_low() = low;
  check_given(at["supply"], low.supply(), kLongestSupply, "say what runs low");
  check_amount(at["left"], low.has_left(), low.left());
}

void record_restocked(Recording& now) {
  const Spot at = now.at()["supply_restocked"];
  const proto::SupplyRestocked& restocked = now.asked.supply_restocked();
  *now.out.entry.mutable_supply_restocked() = restocked;
  check_given(at["supply"], restocked.supply(), kLongestSupply, "say what was restocked");
  check_amount(at["added"], restocked.has_added(), restocked.added());
}

void record_note(Recording& now) {
  const Spot at = now.at()["note"];
  const proto::Note& note = now.asked.note();
  *now.out.entry.mutable_note() = note;
  check_given(at["text"], note.text(), kLongestNote, "write what is to be noted");
  if (note.place().empty()) return;
  const Shop& shop = now.open.shop;
  Known places = known("a zone, machine or bin", shop.zones);
  for (const Machine& machine : shop.machines) places.ids.push_back(machine.id);
  for (const Bin& bin : shop.bins) places.ids.push_back(bin.id);
  check_reference(at["place"], note.place(), places);
}

}  // namespace chipfall
