#pragma once

#include <cstdint>
#include <string>

#include "sync/hub_folder.h"
#include "sync/hub_settings.h"

/// How the hub that last served from a folder is reached: for codes, and for its authority.
namespace chipfall {

/// Writes it down; false where that failed.
bool remember_served(const HubFolder& folder, const HubSettings& settings, std::uint16_t port);
/// What is usual where no hub has served from here yet.
OrError<HubSettings> served_settings(const HubFolder& folder);

/// An address of this computer by which others may reach it; its name where there is none.
std::string own_address();

}  // namespace chipfall
