#pragma once

#include "preview/window/screens.h"

/// What a member's duty and a closing duty have in common on a screen.
namespace chipfall::window {

struct DutyWords {
  std::string counted;  ///< "3 of 37"
  std::string title;
  std::string when;  ///< minutes, people
  std::string place;
  std::string tool;
  std::vector<std::string> steps;
  std::string why;
  std::string caution;
  std::string ending;  ///< empty while it is open
};

void duty_card(Pen& pen, const DutyWords& duty);

/// "2½ min, 2 people together".
std::string duty_minutes(double minutes, int people);

/// Its row in the whole list; true: tapped.
bool duty_row(Pen& pen, const std::string& id, int order, const std::string& title,
              const std::string& words, const std::string& ending);

/// How much of the list is ended, as a bar with words.
void progress_part(Pen& pen, const std::string& words, int ended, int of);

/// "Done", "Passed on", "Not needed".
std::string ending_words(const std::string& ending);

/// Each person's part.
void lanes_part(Pen& pen, const google::protobuf::RepeatedPtrField<proto::Lane>& lanes,
                const std::string& sharing);

}  // namespace chipfall::window
