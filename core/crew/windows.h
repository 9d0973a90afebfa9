#pragma once

#include <vector>

#include "core/crew/project.h"

namespace chipfall {

/// Can a project end within `minutes`? False is certain, true is not.
///
/// Each task gets a window for its start, from the least before it to the least after it, and the
/// windows shrink until nothing moves: by precedence; by pairs that exclude each other, once one
/// order is impossible; by what surely runs at some minute (time-table); and by the work that any
/// interval between two window ends must hold (energetic reasoning, up to 20000 intervals). A
/// window without a minute left refutes the length. Source: Klein and Scholl (1999); time-table: Le
/// Pape (1994); energy: Erschler, Lopez, Thuriot (1991), Baptiste, Le Pape, Nuijten (1999).
class Windows {
 public:
  /// `before` and `to_end` as of strong_minutes_before and strong_minutes_to_end in bound.h.
  Windows(const Project& project, std::vector<double> before, std::vector<double> to_end);

  bool may_end_within(double minutes);

 private:
  bool shrink();
  bool raise(int task, double start);
  bool lower(int task, double start);
  bool by_precedence();
  bool by_pairs();
  bool by_timetable();
  bool by_energy();
  bool by_energy_of(size_t resource, double from, double to);
  bool runs_surely(int other, double from, double to) const;

  const Project& project_;
  std::vector<double> before_;
  std::vector<double> to_end_;
  std::vector<std::vector<int>> exclusive_;  // by task, those that do not fit beside it
  std::vector<double> earliest_;             // start
  std::vector<double> latest_;               // start
  double room_ = 0;                          // for rounding, in minutes
  bool moved_ = false;
};

}  // namespace chipfall
