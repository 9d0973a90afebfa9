#pragma once

#include "core/proto/library.pb.h"
#include "core/shop/mistakes.h"

/// Every mistake in a library, or in the library's kinds of entry where a sheet has its own.
///
/// Mistakes carry field paths, no lines: what was not read from text has none.
namespace chipfall {

/// A whole library, all its texts merged: ids, figures, and resets that name its duties. Resets
/// are left unchecked in a library without any duties.
Errors check_library(const proto::Library& library);

/// `duties`: the standard duties that resets may name; null to leave them unchecked.
void check_machine_kind(const Spot& at, const proto::MachineKind& kind, const Known* duties);
void check_cut(const Spot& at, const proto::Cut& cut);
void check_stock(const Spot& at, const proto::Stock& stock);
void check_duty(const Spot& at, const proto::StandardDuty& duty);

}  // namespace chipfall
