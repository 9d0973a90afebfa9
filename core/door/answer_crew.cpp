#include "core/door/answer_crew.h"

#include <cmath>
#include <map>
#include <string>
#include <vector>

#include <fmt/format.h>

namespace chipfall {

std::string clock_text(int minute_of_day) {
  constexpr int kDay = 1440;
  const int minute = ((minute_of_day % kDay) + kDay) % kDay;
  return fmt::format("{:02}:{:02}", minute / 60, minute % 60);
}

void put_finish(std::optional<int> leave_at_minute, const Finish& finish, proto::Finish& out) {
  out.set_minutes_median(finish.minutes_median);
  out.set_minutes_p80(finish.minutes_p80);
  out.set_lower_bound_minutes(finish.lower_bound_minutes);
  out.set_proven(finish.proven);
  out.set_over_minutes(finish.over_minutes);
  out.set_within_minutes(finish.within_minutes.value_or(0));
  if (finish.begin_minute) {
    out.set_begins_at(clock_text(*finish.begin_minute));
    out.set_done_by(
        clock_text(*finish.begin_minute + static_cast<int>(std::ceil(finish.minutes_p80 - 1e-9))));
  }
  if (leave_at_minute) out.set_leave_at(clock_text(*leave_at_minute));
  if (!finish.tools_down_by_minute) return;
  out.set_tools_down_by(clock_text(*finish.tools_down_by_minute));
  out.set_day_before(*finish.tools_down_by_minute < 0);
}

void put_lanes(const Shop& shop, const Evening& evening,
               google::protobuf::RepeatedPtrField<proto::Lane>& out) {
  const std::optional<int> begin = evening.finish.begin_minute;
  const auto clock = [&](double minute) {
    return begin ? clock_text(*begin + static_cast<int>(std::floor(minute + 1e-9))) : std::string();
  };
  std::map<Index, std::vector<std::string>> at_it;
  for (size_t p = 0; p < evening.crew.people.size(); ++p) {
    for (const Step& step : evening.timetable.lanes[p].steps) {
      at_it[step.task].push_back(evening.crew.people[p].name);
    }
  }
  for (size_t p = 0; p < evening.crew.people.size(); ++p) {
    const std::string& name = evening.crew.people[p].name;
    const Lane& lane = evening.timetable.lanes[p];
    proto::Lane& put = *out.Add();
    put.set_person(name);
    put.set_home_minute(lane.home_minute);
    put.set_home_at(clock(lane.home_minute));
    for (const Step& step : lane.steps) {
      proto::LaneStep& line = *put.add_steps();
      line.set_duty(evening.list.duties[step.task].id);
      line.set_order(step.task + 1);
      line.set_title(evening.list.duties[step.task].title);
      line.set_set_out_minute(step.set_out);
      line.set_start_minute(step.start);
      line.set_end_minute(step.end);
      line.set_starts_at(clock(step.start));
      if (step.tool != kNone) {
        line.set_tool(shop.tools[step.tool].id);
        line.set_tool_name(shop.tools[step.tool].name);
      }
      line.set_fetch(step.fetched);
      for (const std::string& other : at_it[step.task]) {
        if (other != name) line.add_with(other);
      }
    }
  }
}

proto::PassedOn passed_on_message(const Evening& evening, const PassedOn& passed) {
  const Duty& duty = evening.list.duties[static_cast<size_t>(passed.duty)];
  proto::PassedOn put;
  put.set_duty(duty.id);
  put.set_title(duty.title);
  put.set_reason(passed.reason);
  put.set_weight(duty.weight);
  put.set_minutes(duty.minutes);
  return put;
}

}  // namespace chipfall
