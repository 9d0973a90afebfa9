#pragma once

#include <cstdint>
#include <string>

#include "core/ledger/sqlite.h"
#include "sync/hub_session.h"

/// What the drivers give to the state machines: chance, time, and the name of this installation.
namespace chipfall {

/// Random bytes from the system, good for keys.
std::string fresh_bytes(std::size_t bytes);
/// In [0, 1).
double fresh_chance();

/// The system's clocks.
Moment moment_now();

std::string hex_of(std::string_view bytes);

constexpr std::size_t kInstallationBytes = 16;

/// Random bytes that name this installation of the program, made when they are missing. They lie
/// outside what a backup of a ledger copies ($XDG_STATE_HOME or ~/.local/state, chipfall/), so a
/// ledger that was copied to another computer can tell. Empty where no such place can be written.
std::string installation_name();
std::string installation_name_in(const std::string& folder);

}  // namespace chipfall
