#pragma once

#include "absl/time/internal/cctz/include/cctz/civil_time.h"
