#pragma once

#include <string>

#include "core/proto/wind_down.pb.h"
#include "core/shop/error.h"

namespace chipfall {

/// Draws the list as one page for a clipboard, black on white, portrait.
///
/// A list too long for the page is set smaller, loses its whys, then its single column; what even
/// then finds no place is counted at the end, lightest duties first and safety last. The ending of
/// `path` chooses .svg, .png or .pdf. Errors: those of Canvas. Any message gives a page.
Result<void> draw_sheet(const proto::WindDown& answer, const std::string& path);

}  // namespace chipfall
