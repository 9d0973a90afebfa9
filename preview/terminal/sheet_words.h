#pragma once

#include <string>
#include <vector>

#include "core/proto/wind_down.pb.h"

/// What the printable list says, before anything is placed.
namespace chipfall {

/// "About 45 min for you; four evenings in five no more than 60." With a crew, on the clock.
std::string minutes_in_words(const proto::WindDown& answer);

/// "4 people".
std::string people_in_words(int people);

/// Plain heading of a phase; "Also" for a phase that this program does not know.
std::string phase_heading(const std::string& phase);

/// Place, tool and people, leaving out what the title says already.
std::string where_and_with(const proto::Duty& duty);

/// Cautions of all duties with the repeated parts taken out.
struct LetteredCautions {
  std::vector<std::string> shared;   ///< a, b, c ...: each asked for by several duties
  std::vector<std::string> letters;  ///< for each duty: "c, d"; empty for most
  std::vector<std::string> own;      ///< for each duty: what it alone asks for
};

/// Sentences that several duties ask for, together where they always come together. Nothing is
/// lost: a duty's letters and own words make up its caution. At most one alphabet of them.
LetteredCautions letter_cautions(const proto::WindDown& answer);

}  // namespace chipfall
