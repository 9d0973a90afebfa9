#pragma once

#include <string>
#include <vector>

#include "core/shop/error.h"

namespace chipfall::window {

/// Rows of pixels from the top, 4 bytes each: red, green, blue, and one that does not count.
struct Picture {
  int width = 0;
  int height = 0;
  std::vector<unsigned char> rgba;
};

Result<void> write_png(const Picture& picture, const std::string& path);
Result<Picture> read_png(const std::string& path);

/// How far two pictures of one screen are apart.
struct Difference {
  bool same_size = true;
  double share = 0;  ///< of pixels with a channel further apart than `channel_steps`
};
Difference difference_of(const Picture& a, const Picture& b, int channel_steps);

}  // namespace chipfall::window
