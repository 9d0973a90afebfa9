#pragma once

#include <functional>
#include <iosfwd>
#include <string>

#include <google/protobuf/message.h>

#include "core/shop/error.h"
#include "preview/terminal/commands.h"

/// How commands say what they have to say.
namespace chipfall {

/// What a command does when its line was read: answers on the first, explains on the second.
using Command = std::function<int(std::ostream& out, std::ostream& err)>;

/// Width to wrap at: COLUMNS, kept to what one can read.
int columns();

/// One line for each mistake.
int explain(const Errors& errors, std::ostream& err, ExitCode code);

/// A mistake in an argument, located by it.
Error flag_error(const std::string& flag, const std::string& message);

std::string json_text(const google::protobuf::Message& message);

}  // namespace chipfall
