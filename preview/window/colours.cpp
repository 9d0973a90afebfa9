#include "preview/window/colours.h"

#include "preview/terminal/ramp.h"

namespace chipfall::window {

double contrast_of(Rgb a, Rgb b) { return contrast(ink_of(a), ink_of(b)); }

}  // namespace chipfall::window
