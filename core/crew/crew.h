#pragma once

#include <limits>
#include <string>
#include <vector>

#include "core/duty/duty.h"

/// Who cleans together, with which tools, and what each of the duties asks of them.
namespace chipfall {

/// Somebody of the crew. Minutes count from when the plan begins.
struct Person {
  std::string name;
  Point at;                ///< where they stand when they are free
  double from_minute = 0;  ///< joins then
  double until_minute = std::numeric_limits<double>::infinity();  ///< has left by then
  Index tool = kNone;                                             ///< in hand
};

/// A duty that is being done while the plan is made: it stays with its people.
struct UnderWay {
  Index duty = kNone;
  std::vector<Index> people;
  Index tool = kNone;
  double left_minutes = 0;
};

struct Crew {
  std::vector<Person> people;
  std::vector<bool> usable;     ///< parallel to Shop::tools; false: broken or away
  std::vector<Point> tools_at;  ///< where each tool stands
  std::vector<UnderWay> under_way;
};

/// `count` people at the gathering place, all tools on their hooks. Names are A, B, C ...
Crew crew_of(const Shop& shop, int count);

/// One duty as the timetable sees it.
struct CrewTask {
  double minutes = 0;  ///< on the spot, without walking and fetching
  double spread = 0;   ///< standard deviation of ln(minutes)
  Point at;
  std::optional<ToolKind> tool;
  int people = 1;
  std::vector<Index> after;  ///< tasks that end before this one begins
  Index zone = kNone;        ///< one person in a zone at a time
  bool unpleasant = false;   ///< bins, filters, high ledges: shared out fairly
  bool urgent = false;       ///< heat and oily rags: first of all
  double not_before = 0;     ///< minutes from the plan's beginning
  std::vector<Index> frees;  ///< tools that nobody can use before this one is done
};

/// Duties to tasks, index by index; those of `under_way` by their index here too. A duty for two
/// is done by the only one there is, with the caution that it carries. An `after` that names a duty
/// not in the list is taken as done.
///
/// A full vac is emptied before anybody uses it. Where another of its kind is at hand, that holds
/// up the tool and not the duties, which may be done with the other.
std::vector<CrewTask> crew_tasks(const Shop& shop, const Crew& crew,
                                 const std::vector<Duty>& duties);

}  // namespace chipfall
