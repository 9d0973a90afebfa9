#include "core/shop/shop.h"

#include <algorithm>
#include <numeric>

namespace chipfall {

std::string_view name(ChipClass chip_class) {
  constexpr std::array<std::string_view, kChipClasses> kNames{"shavings", "chips", "coarse dust",
                                                              "fine dust"};
  return kNames[static_cast<size_t>(chip_class)];
}

double sum(const PerClass& values) { return std::accumulate(values.begin(), values.end(), 0.0); }

PerClass operator+(const PerClass& a, const PerClass& b) {
  PerClass out{};
  for (ChipClass c : kAllClasses) out[c] = a[c] + b[c];
  return out;
}

PerClass operator*(double factor, const PerClass& a) {
  PerClass out{};
  for (ChipClass c : kAllClasses) out[c] = factor * a[c];
  return out;
}

namespace {

template <typename List>
auto find(const List& list, std::string_view id) -> decltype(list.data()) {
  const auto it = std::ranges::find_if(list, [&](const auto& entry) { return entry.id == id; });
  return it == list.end() ? nullptr : &*it;
}

}  // namespace

const MachineKind* Library::machine_kind(std::string_view id) const {
  return find(machine_kinds, id);
}
const Stock* Library::stock(std::string_view id) const { return find(stocks, id); }
const CleaningMethod* Library::method(ToolKind tool, Surface surface) const {
  const auto it = std::ranges::find_if(methods, [&](const CleaningMethod& method) {
    return method.tool == tool && method.surface == surface;
  });
  return it == methods.end() ? nullptr : &*it;
}

double Shop::floor_m2() const { return signed_area_m2(outline); }
double Shop::air_m3() const { return floor_m2() * ceiling_m; }
const Stock* Shop::stock(std::string_view id) const { return find(stocks, id); }

}  // namespace chipfall
