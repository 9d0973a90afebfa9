#include <cstdio>
#include <string>

#include "preview/window/picture.h"

/// compare_pictures KEPT MADE: 0 where they are the same but for a tolerance.
///
/// Tolerance: one pixel in a hundred may be further apart than 40 of 255 in some channel. Another
/// driver's smoothing moves edges of letters by less; a word, a figure or a shade that is another
/// one moves more.
int main(int count, char** words) {
  using namespace chipfall::window;
  constexpr int kSteps = 40;
  constexpr double kShare = 0.01;
  if (count != 3) return 2;
  const auto kept = read_png(words[1]);
  const auto made = read_png(words[2]);
  if (!kept || !made) {
    std::printf("%s\n", (kept ? made : kept).error().front().text().c_str());
    return 2;
  }
  const Difference difference = difference_of(*kept, *made, kSteps);
  std::printf("%s: %.2f %% of pixels are another%s\n", words[1], 100 * difference.share,
              difference.same_size ? "" : ", another size");
  return difference.same_size && difference.share <= kShare ? 0 : 1;
}
