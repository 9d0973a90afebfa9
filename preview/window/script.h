#pragma once

#include <string>
#include <vector>

#include "preview/window/stage.h"

/// Scripts that use the phones as people do: by what stands on the screen.
///
/// One command a line; '#' begins a remark. Names with blanks need no quotes.
///   on PHONE              the commands that follow are for this phone
///   text PERCENT          size of its text: 100, 150, 200 or 310
///   tap NAME              a target by its id or its label, scrolled to as a thumb would
///   slide NAME SHARE      a slider, 0 to 1
///   type WORDS            into the field tapped before
///   scroll top|bottom     of the screen
///   see WORDS             fails where no text holds them
///   picture NAME          NAME.png of this phone
///   picture-all NAME      NAME.png of the whole desk
///   wait FRAMES
/// After each command the screen settles: answers are in, and three frames are drawn.
namespace chipfall::window {

struct Command {
  int line = 0;
  std::string verb;
  std::string rest;
};

/// Mistakes name file and line.
Result<std::vector<Command>> read_script(const std::string& name, const std::string& text);

struct PlayOptions {
  std::string pictures;         ///< folder; empty: none are written
  float text_size = 0;          ///< for all phones, whatever the script says; 0: as it says
  bool look_for_faults = true;  ///< the screen must have none after any command (seen.h)
};

/// The first command that fails ends it: with what is on the screen, so that one sees why.
Result<void> play(const std::string& name, const std::vector<Command>& script, Desk& desk,
                  Stage& stage, const PlayOptions& options);

/// Draws until every answer is in and the layout rests; at most a few hundred frames.
void settle(Desk& desk, Stage& stage);

/// Taps a target of this phone, or of the desk's switches, as a finger would. The error says what
/// there is instead.
Result<void> tap(Desk& desk, Stage& stage, const Phone& phone, const std::string& target);

}  // namespace chipfall::window
