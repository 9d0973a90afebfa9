#include "core/crew/crew.h"

#include <algorithm>
#include <map>

#include <fmt/format.h>

#include "core/duty/minutes.h"

namespace chipfall {
namespace {

/// Nothing is done in no time, whatever the errand took of its minutes.
constexpr double kLeastOnTheSpot_minutes = 0.1;

/// Vacs whose full bin this duty empties.
std::vector<Index> tools_freed_by(const Shop& shop, const Duty& duty) {
  std::vector<Index> tools;
  if (duty.kind != DutyKind::kBin || duty.phase != Phase::kSafe) return tools;
  for (size_t t = 0; t < shop.tools.size(); ++t) {
    const Index collector = shop.tools[t].collector;
    if (collector == kNone) continue;
    const std::vector<Index>& chain = shop.collectors[collector].chain;
    if (std::ranges::count(chain, duty.bin) > 0) tools.push_back(static_cast<Index>(t));
  }
  return tools;
}

/// A usable tool of this kind waits for no task.
bool another_is_free(const Shop& shop, const Crew& crew, const std::vector<CrewTask>& tasks,
                     ToolKind kind) {
  for (size_t t = 0; t < shop.tools.size(); ++t) {
    if (shop.tools[t].kind != kind || !crew.usable[t]) continue;
    const bool waits = std::ranges::any_of(tasks, [&](const CrewTask& task) {
      return std::ranges::count(task.frees, static_cast<Index>(t)) > 0;
    });
    if (!waits) return true;
  }
  return false;
}

}  // namespace

Crew crew_of(const Shop& shop, int count) {
  Crew crew;
  for (int i = 0; i < std::max(1, count); ++i) {
    Person person;
    // A to Z, then A2, B2 ...
    person.name = std::string(1, static_cast<char>('A' + i % 26));
    if (i >= 26) person.name += fmt::format("{}", i / 26 + 1);
    person.at = shop.start;
    crew.people.push_back(std::move(person));
  }
  crew.usable.assign(shop.tools.size(), true);
  for (const CleaningTool& tool : shop.tools) crew.tools_at.push_back(tool.hangs_at);
  return crew;
}

std::vector<CrewTask> crew_tasks(const Shop& shop, const Crew& crew,
                                 const std::vector<Duty>& duties) {
  std::map<std::string, Index> index;
  for (size_t i = 0; i < duties.size(); ++i) index[duties[i].id] = static_cast<Index>(i);
  std::vector<CrewTask> tasks;
  for (const Duty& duty : duties) {
    CrewTask task;
    task.minutes =
        snapped_minutes(std::max(kLeastOnTheSpot_minutes, duty.minutes - duty.errand_minutes));
    task.spread = duty.spread;
    task.at = duty.at;
    if (duty.tool != kNone) task.tool = shop.tools[duty.tool].kind;
    task.people = std::clamp(duty.people, 1, static_cast<int>(crew.people.size()));
    task.zone = duty.zone;
    task.unpleasant = duty.kind == DutyKind::kBin || duty.kind == DutyKind::kFilter ||
                      (duty.zone != kNone && shop.zones[duty.zone].kind == ZoneKind::kLedge);
    task.urgent = duty.safety && duty.phase == Phase::kSafe && duty.kind == DutyKind::kClose;
    task.not_before = snapped_minutes(duty.not_before_minutes);
    task.frees = tools_freed_by(shop, duty);
    tasks.push_back(std::move(task));
  }
  for (size_t i = 0; i < duties.size(); ++i) {
    for (const std::string& id : duties[i].after) {
      const auto before = index.find(id);
      if (before == index.end()) continue;
      const bool only_for_the_tool =
          std::ranges::count(tasks[before->second].frees, duties[i].tool) > 0 &&
          another_is_free(shop, crew, tasks, *tasks[i].tool);
      if (!only_for_the_tool) tasks[i].after.push_back(before->second);
    }
  }
  return tasks;
}

}  // namespace chipfall
