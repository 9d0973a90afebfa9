#pragma once

#include "core/proto/library.pb.h"
#include "core/proto/session.pb.h"
#include "core/proto/shop.pb.h"
#include "core/shop/session.h"
#include "core/shop/shop.h"

/// From checked messages to the plain structs of shop.h and session.h: words to enums, references
/// to indices, silence to defaults, units to SI.
///
/// Each asks that the check of its message found nothing, against the same library or shop; what
/// they make of anything else has no meaning.
namespace chipfall {

Library build_library(const proto::Library& library);
Shop build_shop(const proto::ShopSheet& sheet, const Library& library);
Session build_session(const proto::Session& session, const Shop& shop);
ShopState build_state(const proto::ShopState& state, const Shop& shop);

// The library's kinds of entry, which a sheet may have of its own.
MachineKind build_machine_kind(const proto::MachineKind& kind);
Cut build_cut(const proto::Cut& cut);
Stock build_stock(const proto::Stock& stock);
StandardDuty build_duty(const proto::StandardDuty& duty);

}  // namespace chipfall
