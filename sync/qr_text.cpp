#include "sync/qr_text.h"

#include <qrencode.h>

#include <memory>

namespace chipfall {

namespace {

constexpr int kQuiet = 4;  // modules around the code: ISO/IEC 18004, section 6.3.8 [memory]

}  // namespace

OrError<std::string> qr_text(std::string_view text) {
  const std::string copy(text);
  const std::unique_ptr<QRcode, void (*)(QRcode*)> code(
      QRcode_encodeString(copy.c_str(), 0, QR_ECLEVEL_L, QR_MODE_8, 1), QRcode_free);
  if (!code) {
    return tl::unexpected(Error{ErrorCode::kOutOfBounds, "this text does not fit a QR code", {}});
  }
  const auto dark = [&](int x, int y) {
    if (x < 0 || y < 0 || x >= code->width || y >= code->width) return false;
    return (code->data[y * code->width + x] & 1) != 0;
  };
  std::string drawn;
  for (int y = -kQuiet; y < code->width + kQuiet; y += 2) {
    for (int x = -kQuiet; x < code->width + kQuiet; ++x) {
      const bool upper = !dark(x, y);
      const bool lower = !dark(x, y + 1);  // the terminal's own ground is the dark of the code
      drawn += upper && lower ? "\u2588" : upper ? "\u2580" : lower ? "\u2584" : " ";
    }
    drawn += '\n';
  }
  return drawn;
}

}  // namespace chipfall
