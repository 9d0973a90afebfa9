#pragma once

#include <cstdint>
#include <functional>
#include <string>
#include <string_view>

#include "core/ledger/store.h"

/// What phones record in a run: some of every kind, about so few machines, bins and duties that
/// phones get into each other's way.
namespace chipfall::sim {

/// A number below `bound`, by chance.
using Below = std::function<std::uint32_t(std::uint32_t bound)>;

/// An entry that says `token`, which no other entry says, in a field that no role is denied. It may
/// be about sessions and machines that are in `store`.
proto::Entry some_entry(LedgerStore& store, const std::string& token, const Below& below);

/// The token of an entry; empty where it has none.
std::string token_of(std::string_view bytes);

}  // namespace chipfall::sim
