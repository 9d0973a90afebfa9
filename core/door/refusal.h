#pragma once

#include "core/proto/door.pb.h"
#include "core/shop/error.h"

/// Saying no through the door: mistakes instead of an answer.
namespace chipfall {

/// Version of the meaning of the messages that are the door's own.
inline constexpr int kMessageFormat = 1;

void put_mistake(const Error& error, proto::Mistake& mistake);
void refuse(const Errors& errors, proto::Response& response);
void refuse(const Error& error, proto::Response& response);
Error mistake(ErrorCode code, std::string message);

}  // namespace chipfall
