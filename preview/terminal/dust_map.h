#pragma once

#include <string>

#include "core/proto/wind_down.pb.h"
#include "core/shop/error.h"

namespace chipfall {

/// Draws the plan of the room with what fell and what lies in each zone; one page, landscape.
///
/// Shades say how much lies there per area, written figures how much fell in this session, hatching
/// what the list asks to clean; no meaning hangs on colour alone. The ending of `path` chooses
/// .svg, .png or .pdf. Errors: those of Canvas. Any message gives a picture, an empty one too.
Result<void> draw_dust_map(const proto::DustMap& map, const std::string& path);

}  // namespace chipfall
