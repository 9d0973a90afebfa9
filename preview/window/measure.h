#pragma once

#include <chrono>
#include <iosfwd>

#include "preview/window/desk.h"
#include "preview/window/stage.h"

namespace chipfall::window {

/// When the program began: asked for by main before all else.
struct ProgramStart {
  std::chrono::steady_clock::time_point main = std::chrono::steady_clock::now();
  double loading_ms = 0;  ///< of computing before main: the libraries it is linked with

  static ProgramStart now();
};

/// The first phone asks for the list that `measure` waits for.
void ask_first_list(Desk& desk);

/// Prints, of the first phone: how long from the program's start to the first list drawn, and what
/// a frame costs with the map open and with the whole list.
void measure(Desk& desk, Stage& stage, const ProgramStart& start, std::ostream& out);

}  // namespace chipfall::window
