#pragma once

#include <algorithm>
#include <string>
#include <vector>

#include "core/crew/crew.h"
#include "tests/unit/random_shop.h"

/// Crews and their work from a seed, for the tests and benchmarks of plans.
namespace chipfall::test {

/// A hall with so many vacs and brooms on its walls.
inline Shop tool_shop(int vacs, int brooms) {
  Shop shop;
  shop.outline = rectangle(0, 0, 14, 9);
  shop.start = {1, 1};
  for (int i = 0; i < vacs; ++i) {
    shop.tools.push_back({"vac-" + std::to_string(i), "", ToolKind::kVac, {2.0 + 9 * i, 0.5}, 0});
  }
  for (int i = 0; i < brooms; ++i) {
    shop.tools.push_back(
        {"broom-" + std::to_string(i), "", ToolKind::kBroom, {0.5, 2.0 + 5 * i}, kNone});
  }
  return shop;
}

/// Tasks all over it, some for two, some after others, many with a vac or a broom.
inline std::vector<CrewTask> random_tasks(Dice& dice, int count, bool heavy = true) {
  std::vector<CrewTask> tasks;
  for (int i = 0; i < count; ++i) {
    CrewTask task;
    task.minutes = dice.between(0.5, 6);
    task.spread = 0.4;
    task.at = {dice.between(0.5, 13.5), dice.between(0.5, 8.5)};
    const int tool = dice.upto(3);
    if (tool == 0) task.tool = ToolKind::kVac;
    if (tool == 1) task.tool = ToolKind::kBroom;
    if (heavy && dice.upto(9) == 0) task.people = 2;
    task.zone = dice.upto(2) == 0 ? dice.upto(3) : kNone;
    task.unpleasant = dice.upto(5) == 0;
    for (int before = 0; before < i; ++before) {
      if (dice.upto(std::max(5, count / 2)) == 0) task.after.push_back(before);
    }
    tasks.push_back(std::move(task));
  }
  return tasks;
}

}  // namespace chipfall::test
