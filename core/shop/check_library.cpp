#include "core/shop/check_library.h"

#include <cmath>
#include <map>
#include <numeric>

#include <fmt/format.h>

#include "core/shop/load.h"

namespace chipfall {
namespace {

// Bounds of figures, wide of anything seen in a shop: they catch a wrong unit, not a bold machine.
constexpr double kWidestKerfMm = 100;
constexpr double kWidestCutMm = 3000;
constexpr double kDeepestCutMm = 500;
constexpr double kDeepestSandingMm = 10;
constexpr double kFastestFeedMPerMin = 100;
constexpr double kMostSandedM2PerMin = 50;
constexpr double kMostCutCm3PerMin = 50'000;
constexpr double kWidestThrowM = 20;
constexpr double kTallestReachM = 50;
constexpr double kMostCleanedM2PerMin = 200;
constexpr double kSumTolerance = 1e-6;

void check_class_shares(const Spot& at, const proto::PerClass& shares) {
  check_shares(at, shares);
  const double sum = shares.shavings() + shares.chips() + shares.coarse() + shares.fine();
  if (!(std::abs(sum - 1) <= kSumTolerance)) {
    at.mistake(fmt::format("the shares of the classes sum to {:.6g}; they must sum to 1", sum));
  }
}

void check_kernel(const Spot& at, const proto::ThrowKernel& kernel) {
  check_range(at["offset_m"], kernel.offset_m(), -kWidestThrowM, kWidestThrowM, "m");
  check_positive(at["along_m"], kernel.along_m(), kWidestThrowM, "m");
  check_positive(at["across_m"], kernel.across_m(), kWidestThrowM, "m");
  if (kernel.has_up_to_m()) check_positive(at["up_to_m"], kernel.up_to_m(), kTallestReachM, "m");
}

void check_thrown(const Spot& at, const proto::MachineKind& kind) {
  const proto::ThrowPerClass& thrown = kind.thrown();
  const std::array<const proto::ThrowKernel*, kChipClasses> kernels{
      thrown.has_shavings() ? &thrown.shavings() : nullptr,
      thrown.has_chips() ? &thrown.chips() : nullptr,
      thrown.has_coarse() ? &thrown.coarse() : nullptr,
      thrown.has_fine() ? &thrown.fine() : nullptr};
  const auto shares = per_class(kind.class_shares());
  for (ChipClass c : kAllClasses) {
    const Spot kernel = at[class_field(c)];
    if (kernels[c] != nullptr) {
      check_kernel(kernel, *kernels[c]);
    } else if (shares[c].value_or(0) > 0) {
      kernel.mistake(fmt::format("missing: this kind makes {}, so say how they fall", name(c)));
    }
  }
}

void check_airborne(const Spot& at, const proto::MachineKind& kind) {
  check_range(at["airborne_share"], kind.airborne_share(), 0, 1);
  // Where nothing stays up, the size of what stays up may be left out.
  const bool left_out = kind.airborne_median_um() == 0 && kind.airborne_gsd() == 0;
  if (kind.airborne_share() == 0 && left_out) return;
  check_range(at["airborne_median_um"], kind.airborne_median_um(), 0.1, 100, "um");
  check_range(at["airborne_gsd"], kind.airborne_gsd(), 1, 5);
}

void check_resets(const Spot& at, const proto::MachineKind& kind, const Known& duties) {
  for (int i = 0; i < kind.resets_size(); ++i) {
    check_reference(at.entry("resets", i), kind.resets(i), duties);
  }
}

void check_methods(const Spot& at, const proto::Library& library) {
  std::map<std::pair<std::string, std::string>, int> seen;
  for (int i = 0; i < library.cleaning_methods_size(); ++i) {
    const proto::CleaningMethod& method = library.cleaning_methods(i);
    const Spot spot = at.entry("cleaning_methods", i);
    check_word<ToolKind>(spot["tool"], method.tool());
    check_word<Surface>(spot["surface"], method.surface());
    check_positive(spot["area_m2_per_min"], method.area_m2_per_min(), kMostCleanedM2PerMin,
                   "m2/min");
    check_range(spot["pickup_share"], method.pickup_share(), 0.65, 0.999);
    if (!seen.try_emplace({method.tool(), method.surface()}, i).second) {
      spot.mistake(fmt::format("{} on {} stands twice; keep one", in_quotes(method.tool()),
                               in_quotes(method.surface())));
    }
  }
}

bool check_lengths(const Spot& at, const proto::Library& library) {
  bool fit = check_length(at, "machine_kinds", library.machine_kinds_size(), kMostListed);
  fit &= check_length(at, "stocks", library.stocks_size(), kMostListed);
  fit &= check_length(at, "cleaning_methods", library.cleaning_methods_size(), kMostListed);
  fit &= check_length(at, "duties", library.duties_size(), kMostListed);
  return fit;
}

}  // namespace

void check_cut(const Spot& at, const proto::Cut& cut) {
  switch (cut.kind_case()) {
    case proto::Cut::kKerf: {
      const Spot kerf = at["kerf"];
      check_positive(kerf["kerf_mm"], cut.kerf().kerf_mm(), kWidestKerfMm, "mm");
      check_positive(kerf["depth_mm"], cut.kerf().depth_mm(), kDeepestCutMm, "mm");
      check_positive(kerf["feed_m_per_min"], cut.kerf().feed_m_per_min(), kFastestFeedMPerMin,
                     "m/min");
      return;
    }
    case proto::Cut::kPlaning: {
      const Spot planing = at["planing"];
      check_positive(planing["width_mm"], cut.planing().width_mm(), kWidestCutMm, "mm");
      check_positive(planing["depth_mm"], cut.planing().depth_mm(), kDeepestCutMm, "mm");
      check_positive(planing["feed_m_per_min"], cut.planing().feed_m_per_min(), kFastestFeedMPerMin,
                     "m/min");
      return;
    }
    case proto::Cut::kSanding: {
      const Spot sanding = at["sanding"];
      check_positive(sanding["area_m2_per_min"], cut.sanding().area_m2_per_min(),
                     kMostSandedM2PerMin, "m2/min");
      check_positive(sanding["depth_mm"], cut.sanding().depth_mm(), kDeepestSandingMm, "mm");
      return;
    }
    case proto::Cut::kDirect:
      check_positive(at["direct"]["volume_cm3_per_min"], cut.direct().volume_cm3_per_min(),
                     kMostCutCm3PerMin, "cm3/min");
      return;
    case proto::Cut::KIND_NOT_SET:
      at.mistake("missing: say how it cuts, one of kerf, planing, sanding, direct");
  }
}

void check_machine_kind(const Spot& at, const proto::MachineKind& kind, const Known* duties) {
  check_cut(at["cut"], kind.cut());
  check_positive(at["cutting_share"], kind.cutting_share(), 1);
  check_class_shares(at["class_shares"], kind.class_shares());
  check_shares(at["capture"], kind.capture());
  check_thrown(at["thrown"], kind);
  check_airborne(at, kind);
  if (duties != nullptr) check_resets(at, kind, *duties);
}

void check_stock(const Spot& at, const proto::Stock& stock) {
  check_range(at["specific_gravity"], stock.specific_gravity(), 0.05, 25);
  check_range(at["moisture_percent"], stock.moisture_percent(), 0, 200, "%");
  check_range(at["finer_share"], stock.finer_share(), 0, 1);
  check_word<Family>(at["family"], stock.family());
}

void check_duty(const Spot& at, const proto::StandardDuty& duty) {
  if (duty.title().empty()) at["title"].mistake("missing: say what is to be done");
  check_word<When>(at["when"], duty.when());
  check_positive(at["minutes"], duty.minutes(), 240, "min");
  check_range(at["spread"], duty.spread(), 0, 2);
  check_word_if_any<ToolKind>(at["tool"], duty.tool());
  check_range(at["weight"], duty.weight(), 0, 100);
  check_word<Phase>(at["phase"], duty.phase());
  const bool lock_up = parse<When>(duty.when()) == When::kLockUp;
  for (int i = 0; i < duty.places_size(); ++i) {
    const Spot place = at.entry("places", i);
    check_word<PlaceKind>(place, duty.places(i));
    if (!lock_up) place.mistake("only a duty of `when: \"lock-up\"` names places; leave it out");
  }
  if (!lock_up && !duty.if_not().empty()) {
    at["if_not"].mistake("only a duty of `when: \"lock-up\"` is signed off; leave it out");
  }
}

Errors check_library(const proto::Library& library) {
  Errors errors;
  const Spot root(errors);
  if (!check_lengths(root, library)) return errors;
  check_ids(root, "machine_kinds", ids_of(library.machine_kinds()));
  check_ids(root, "stocks", ids_of(library.stocks()));
  check_ids(root, "duties", ids_of(library.duties()));
  const Known duties{"a standard duty", ids_of(library.duties())};
  for (int i = 0; i < library.machine_kinds_size(); ++i) {
    check_machine_kind(root.entry("machine_kinds", i), library.machine_kinds(i),
                       duties.ids.empty() ? nullptr : &duties);
  }
  for (int i = 0; i < library.stocks_size(); ++i) {
    check_stock(root.entry("stocks", i), library.stocks(i));
  }
  for (int i = 0; i < library.duties_size(); ++i) {
    check_duty(root.entry("duties", i), library.duties(i));
  }
  check_methods(root, library);
  return errors;
}

}  // namespace chipfall
