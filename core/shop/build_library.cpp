#include "core/shop/build.h"
#include "core/shop/defaults.h"
#include "core/shop/mistakes.h"
#include "core/shop/words.h"

namespace chipfall {
namespace {

/// The checked word's value.
template <typename E>
E checked(const std::string& text) {
  return *parse<E>(text);
}

ThrowKernel build_kernel(const proto::ThrowKernel& kernel) {
  ThrowKernel out{kernel.offset_m(), kernel.along_m(), kernel.across_m()};
  if (kernel.has_up_to_m()) out.up_to_m = kernel.up_to_m();
  return out;
}

/// A class that the kind does not make may go without a kernel; the default then never matters.
std::array<ThrowKernel, kChipClasses> build_thrown(const proto::ThrowPerClass& thrown) {
  std::array<ThrowKernel, kChipClasses> out;
  if (thrown.has_shavings()) out[kShavings] = build_kernel(thrown.shavings());
  if (thrown.has_chips()) out[kChips] = build_kernel(thrown.chips());
  if (thrown.has_coarse()) out[kCoarse] = build_kernel(thrown.coarse());
  if (thrown.has_fine()) out[kFine] = build_kernel(thrown.fine());
  return out;
}

}  // namespace

Cut build_cut(const proto::Cut& cut) {
  Cut out;
  switch (cut.kind_case()) {
    case proto::Cut::kKerf:
      out.kind = Cut::Kind::kKerf;
      out.width_mm = cut.kerf().kerf_mm();
      out.depth_mm = cut.kerf().depth_mm();
      out.feed_m_per_min = cut.kerf().feed_m_per_min();
      break;
    case proto::Cut::kPlaning:
      out.kind = Cut::Kind::kPlaning;
      out.width_mm = cut.planing().width_mm();
      out.depth_mm = cut.planing().depth_mm();
      out.feed_m_per_min = cut.planing().feed_m_per_min();
      break;
    case proto::Cut::kSanding:
      out.kind = Cut::Kind::kSanding;
      out.area_m2_per_min = cut.sanding().area_m2_per_min();
      out.depth_mm = cut.sanding().depth_mm();
      break;
    case proto::Cut::kDirect:
      out.volume_cm3_per_min = cut.direct().volume_cm3_per_min();
      break;
    case proto::Cut::KIND_NOT_SET:
      break;
  }
  return out;
}

MachineKind build_machine_kind(const proto::MachineKind& kind) {
  MachineKind out;
  out.id = kind.id();
  out.name = name_of(kind);
  out.cut = build_cut(kind.cut());
  out.cutting_share = kind.cutting_share();
  const auto shares = per_class(kind.class_shares());
  for (ChipClass c : kAllClasses) out.class_shares[c] = shares[c].value_or(0);
  out.capture = per_class(kind.capture());
  out.thrown = build_thrown(kind.thrown());
  out.airborne_share = kind.airborne_share();
  if (kind.airborne_median_um() > 0) out.airborne_median_um = kind.airborne_median_um();
  if (kind.airborne_gsd() > 0) out.airborne_gsd = kind.airborne_gsd();
  out.sparks = kind.sparks();
  out.metal = kind.metal();
  out.resets.assign(kind.resets().begin(), kind.resets().end());
  out.caution = kind.caution();
  return out;
}

Stock build_stock(const proto::Stock& stock) {
  Stock out;
  out.id = stock.id();
  out.name = name_of(stock);
  out.specific_gravity = stock.specific_gravity();
  out.moisture_percent = stock.moisture_percent();
  out.family = checked<Family>(stock.family());
  out.health = stock.health();
  out.mask_always = stock.mask_always();
  out.finer_share = stock.finer_share();
  return out;
}

StandardDuty build_duty(const proto::StandardDuty& duty) {
  StandardDuty out;
  out.id = duty.id();
  out.title = duty.title();
  out.why = duty.why();
  out.when = checked<When>(duty.when());
  out.minutes = duty.minutes();
  out.spread = duty.spread();
  out.tool = parse<ToolKind>(duty.tool());  // none: hands
  out.weight = duty.weight();
  out.caution = duty.caution();
  out.phase = checked<Phase>(duty.phase());
  out.safety = duty.safety();
  for (const std::string& place : duty.places()) {
    out.places.push_back(checked<PlaceKind>(place));
  }
  out.if_not = duty.if_not();
  return out;
}

Library build_library(const proto::Library& library) {
  Library out;
  for (const auto& kind : library.machine_kinds()) {
    out.machine_kinds.push_back(build_machine_kind(kind));
  }
  for (const auto& stock : library.stocks()) out.stocks.push_back(build_stock(stock));
  for (const auto& method : library.cleaning_methods()) {
    out.methods.push_back({checked<ToolKind>(method.tool()), checked<Surface>(method.surface()),
                           method.area_m2_per_min(), method.pickup_share()});
  }
  for (const auto& duty : library.duties()) out.duties.push_back(build_duty(duty));
  return out;
}

}  // namespace chipfall
