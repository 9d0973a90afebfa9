#pragma once

#include <string>
#include <string_view>

#include "core/ledger/sqlite.h"

namespace chipfall {

/// A QR code drawn with half blocks, two rows of it in a line of text, with the quiet zone that
/// readers need. Drawn light on dark, as terminals mostly are; phones read both.
/// `text` is upper-case letters, digits and ` $%*+-./:`, which take little room.
OrError<std::string> qr_text(std::string_view text);

}  // namespace chipfall
