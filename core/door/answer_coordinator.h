#pragma once

#include "core/crew/round.h"
#include "core/duty/coordinator.h"
#include "core/proto/coordinator.pb.h"

/// What the coordinator is told, as the messages that every shell shows; see
/// core/proto/coordinator.proto.
namespace chipfall {

/// A machine that is noted as out of order.
struct MachineOut {
  Index machine = kNone;
  double day = 0;
  std::string reason;
  bool back_unseen = false;  ///< somebody said it is back without having seen this
};

/// All that the coordinator's messages are made from. Outlooks in any order.
struct CoordinatorView {
  std::vector<BinOutlook> bins;
  std::vector<std::string> bin_notes;
  Round round;
  std::optional<int> next_round_days;  ///< as the round was asked for
  std::vector<MachineOut> machines_out;
  std::vector<SupplyStock> supplies;
  std::vector<LayerNotice> layers;
  std::vector<EstimatesHeld> estimates;
  std::vector<FallenBehind> behind;
  double now_day = 0;
};

proto::Bins bins_answer(const Shop& shop, const CoordinatorView& view);
proto::Round round_answer(const Shop& shop, const CoordinatorView& view);
proto::Coordinator coordinator_answer(const Shop& shop, const CoordinatorView& view);

}  // namespace chipfall
