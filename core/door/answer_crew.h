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

}  // namespace chipfall
