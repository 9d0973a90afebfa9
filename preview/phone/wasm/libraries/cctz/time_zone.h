#pragma once

// Debian's Abseil carries cctz's sources, in a namespace of its own; the core knows it by its name.
#include "absl/time/internal/cctz/include/cctz/time_zone.h"

namespace cctz = absl::time_internal::cctz;
