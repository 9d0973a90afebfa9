#include "core/door/remembered.h"

namespace chipfall {

OrError<ShopState> remembered_state(const Shop& shop, Views& views, std::int64_t /*now_ms*/) {
  const OrError<std::vector<MachineNotice>> out = views.machines_out();
  if (!out) return tl::unexpected(out.error());
  ShopState state = clean_state(shop);
  for (const MachineNotice& notice : *out) {
    const Index machine = index_of(shop.machines, notice.machine);
    if (machine != kNone) state.out_of_order[static_cast<std::size_t>(machine)] = true;
  }
  return state;
}

}  // namespace chipfall
