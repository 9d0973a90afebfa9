#pragma once

#include "core/proto/door.pb.h"

namespace chipfall::test {

/// The request with its texts read into messages, as a phone sends it, which has no text parser.
proto::Request with_messages(proto::Request request);

}  // namespace chipfall::test
