#pragma once

#include <string>

#include "core/shop/error.h"
#include "core/shop/load.h"

namespace chipfall {

/// The whole file, or one error that says which file and why. `-` reads standard input.
Result<Text> read_file(const std::string& path);

}  // namespace chipfall
