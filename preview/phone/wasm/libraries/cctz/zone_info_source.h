#pragma once

#include "absl/time/internal/cctz/include/cctz/zone_info_source.h"

namespace cctz_extension = absl::time_internal::cctz_extension;
