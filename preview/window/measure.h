#pragma once

#include <iosfwd>

#include "preview/window/desk.h"

namespace chipfall::window {

/// Prints, of the first phone: how long from here to the first list drawn, and what a frame costs
/// with the map open and with the whole list.
void measure(Desk& desk, std::ostream& out);

}  // namespace chipfall::window
