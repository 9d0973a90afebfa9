#include "core/dust/removal.h"

namespace chipfall {

double density_kg_per_m3(double specific_gravity, double moisture_percent) {
  return 1000 * specific_gravity * (1 + moisture_percent / 100);
}

double density_kg_per_m3(const Stock& stock) {
  return density_kg_per_m3(stock.specific_gravity, stock.moisture_percent);
}

double volume_rate_m3_per_min(const Cut& cut) {
  switch (cut.kind) {
    case Cut::Kind::kKerf:
    case Cut::Kind::kPlaning:
      return cut.width_mm / 1000 * cut.depth_mm / 1000 * cut.feed_m_per_min;
    case Cut::Kind::kSanding:
      return cut.area_m2_per_min * cut.depth_mm / 1000;
    case Cut::Kind::kDirect:
      return cut.volume_cm3_per_min * 1e-6;
  }
  return 0;
}

PerClass class_shares(const MachineKind& kind, const Stock& stock) {
  PerClass shares = (1 - stock.finer_share) * kind.class_shares;
  shares[kFine] += stock.finer_share;
  return shares;
}

PerClass removal_g(const MachineKind& kind, const Stock& stock, double minutes) {
  const double solid_m3 = volume_rate_m3_per_min(kind.cut) * minutes * kind.cutting_share;
  return 1000 * density_kg_per_m3(stock) * solid_m3 * class_shares(kind, stock);
}

double loose_volume_m3(const PerClass& grams, double solid_kg_per_m3) {
  double volume = 0;
  for (ChipClass c : kAllClasses) volume += kExpansion[c] * grams[c] / 1000 / solid_kg_per_m3;
  return volume;
}

}  // namespace chipfall
