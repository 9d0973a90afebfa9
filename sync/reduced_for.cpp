#include "sync/reduce.h"

/// The hub's side alone: a phone's core has protobuf's small runtime, which forgets no unknown
/// fields.
namespace chipfall {

std::string reduced_for(proto::Role role, std::string_view bytes) {
  std::string whole(bytes);
  if (holds_whole(role)) return whole;
  proto::Entry entry;
  if (!entry.ParseFromString(whole)) return whole;
  switch (entry.payload_case()) {
    case proto::Entry::kDutyDone:
      entry.mutable_duty_done()->clear_minutes();
      entry.mutable_duty_done()->clear_people();
      entry.mutable_duty_done()->clear_estimated_minutes();
      entry.mutable_duty_done()->DiscardUnknownFields();  // they may say the same in newer words
      break;
    case proto::Entry::kDutyPassedOn:
    case proto::Entry::kDutyNotNeeded:
    case proto::Entry::kDutyReopened:
      break;
    default:
      return whole;
  }
  entry.clear_member();
  entry.set_reduced(true);
  return entry.SerializeAsString();
}

}  // namespace chipfall
