#pragma once

#include <optional>
#include <string>

#include "core/crew/evening.h"
#include "core/proto/wind_down.pb.h"

/// The parts of an answer that tell who does what when, for every list that a crew shares.
namespace chipfall {

/// `HH:MM` of a minute of the day, which may lie on the day before or after.
std::string clock_text(int minute_of_day);

void put_finish(std::optional<int> leave_at_minute, const Finish& finish, proto::Finish& out);

/// Everybody's part, with clock times where it is known when the plan begins.
void put_lanes(const Shop& shop, const Evening& evening,
               google::protobuf::RepeatedPtrField<proto::Lane>& out);

/// The plan may have given a duty another vac than the nearest: what the lanes say holds.
template <typename Answer>
void put_tools_of_lanes(Answer& out) {
  for (const proto::Lane& lane : out.lanes()) {
    for (const proto::LaneStep& step : lane.steps()) {
      if (step.tool().empty()) continue;
      auto& duty = *out.mutable_duties(step.order() - 1);
      duty.set_tool(step.tool());
      duty.set_tool_name(step.tool_name());
    }
  }
}

proto::PassedOn passed_on_message(const Evening& evening, const PassedOn& passed);

/// What the time given has no room for, and the mark of it on the duty. Duties are parallel.
template <typename Answer>
void put_passed_on(const Evening& evening, Answer& out) {
  for (const PassedOn& passed : evening.passed_on) {
    *out.add_passed_on() = passed_on_message(evening, passed);
    out.mutable_duties(static_cast<int>(passed.duty))->set_passed_on(true);
  }
}

}  // namespace chipfall
