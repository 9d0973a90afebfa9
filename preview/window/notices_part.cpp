#include <algorithm>

#include <fmt/format.h>

#include "preview/window/screens.h"

namespace chipfall::window {
namespace {

const proto::EntryName* notice_of(const Phone& phone, const std::string& machine) {
  for (const proto::OutNotice& out : phone.standing.machines_out()) {
    if (out.machine() == machine) return &out.entry();
  }
  return nullptr;
}

/// Makes something less safe, so it names the notice that is on this screen.
void back_in_service(Phone& phone, const std::string& machine) {
  const proto::EntryName* seen = notice_of(phone, machine);
  if (seen == nullptr) return;
  proto::Record what;
  what.mutable_machine_back()->set_machine(machine);
  *what.mutable_machine_back()->mutable_seen() = *seen;
  phone.record(what, [&phone](const proto::Recorded&) { phone.ask_coordinator(); });
}

void machine_card(Pen& pen, Phone& phone, const proto::MachineOutNotice& notice) {
  pen.card(kCard, kBrick);
  pen.text(fmt::format("{} is out of order", notice.name()), Face::kBold, kBrick);
  std::string line = fmt::format("Noted {}", notice.since());
  if (!notice.reason().empty()) line += fmt::format(": {}", notice.reason());
  pen.text(line);
  if (notice.back_unseen()) {
    pen.gap(4);
    pen.text(
        "Somebody noted it as back without having seen this; it stays out until one who has "
        "looked says so.");
  }
  if (!notice.try_first().empty()) {
    pen.gap(6);
    pen.text("Worth a look before it is tagged out", Face::kBold);
    for (const std::string& step : notice.try_first()) pen.bullet(step);
  }
  pen.gap(8);
  if (pen.button(
          {"back/" + notice.machine(), "Mended, back in service", Look::kPlain, Icon::kCheck})) {
    back_in_service(phone, notice.machine());
  }
  pen.card_end();
}

void supply_row(Pen& pen, Phone& phone, const proto::SupplyNotice& supply) {
  pen.card(kCard, supply.low() ? kBrick : kHairline);
  pen.text(supply.low() ? fmt::format("{}: running low", supply.name()) : supply.name(),
           Face::kBold, supply.low() ? kBrick : kInk);
  pen.text(supply.text());
  if (supply.low()) {
    pen.gap(8);
    if (pen.button({"restocked/" + supply.supply(), "Restocked", Look::kPlain, Icon::kCheck})) {
      proto::Record what;
      what.mutable_supply_restocked()->set_supply(supply.supply());
      phone.record(what, [&phone](const proto::Recorded&) { phone.ask_coordinator(); });
    }
  }
  pen.card_end();
}

/// A zone's layer beside its limit, as a bar with the limit at its end.
void layer_part(Pen& pen, const proto::LayerNotice& layer) {
  pen.card();
  pen.text(layer.name(), Face::kBold);
  const Rect at = pen.picture("layer/" + layer.zone(), "layer", 20);
  const auto share = static_cast<float>(std::clamp(layer.share_of_limit(), 0.0, 1.0));
  pen.fill({at.left, at.top + 4, at.right, at.bottom - 2}, kPaper, 4);
  pen.fill({at.left, at.top + 4, at.left + share * at.width(), at.bottom - 2}, 0xae5841, 4);
  pen.edge({at.left, at.top + 4, at.right, at.bottom - 2}, kGrain, 1.5F, 4);
  pen.text(layer.text());
  pen.card_end();
}

}  // namespace

void notices_part(Pen& pen, Phone& phone) {
  const proto::Coordinator& answer = *phone.coordinator.answer;
  if (answer.machines_out().empty()) {
    pen.text("No machine is noted as out of order.");
    pen.gap();
  }
  for (const proto::MachineOutNotice& notice : answer.machines_out()) {
    machine_card(pen, phone, notice);
  }
  pen.heading("Supplies");
  for (const proto::SupplyNotice& supply : answer.supplies()) supply_row(pen, phone, supply);
  pen.heading("Layers of dust");
  if (answer.layers().empty()) pen.text("No zone is near the housekeeping limit.");
  if (!answer.layers().empty()) {
    pen.text("The bar's end is the housekeeping limit.", Face::kSmall, kSoftInk);
    pen.gap(4);
  }
  for (const proto::LayerNotice& layer : answer.layers()) layer_part(pen, layer);
  if (!answer.behind().empty()) pen.heading("Where the shop could use a hand");
  for (const proto::FallenBehind& behind : answer.behind()) pen.bullet(behind.text());
  for (const std::string& note : answer.notes()) pen.bullet(note);
}

}  // namespace chipfall::window
