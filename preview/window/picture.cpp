#include "preview/window/picture.h"

#include <cstdlib>
#include <cstring>
#include <memory>

#include <cairo.h>

namespace chipfall::window {
namespace {

using Surface = std::unique_ptr<cairo_surface_t, decltype(&cairo_surface_destroy)>;

Errors failed(const std::string& path, cairo_status_t status) {
  return {{ErrorCode::kUnreadable, cairo_status_to_string(status), {path, 0, 0, ""}}};
}

}  // namespace

Result<void> write_png(const Picture& picture, const std::string& path) {
  const Surface surface(
      cairo_image_surface_create(CAIRO_FORMAT_RGB24, picture.width, picture.height),
      cairo_surface_destroy);
  const cairo_status_t made = cairo_surface_status(surface.get());
  if (made != CAIRO_STATUS_SUCCESS) return tl::unexpected(failed(path, made));
  unsigned char* rows = cairo_image_surface_get_data(surface.get());
  const int stride = cairo_image_surface_get_stride(surface.get());
  for (int y = 0; y < picture.height; ++y) {
    for (int x = 0; x < picture.width; ++x) {
      const unsigned char* from = picture.rgba.data() + 4 * (y * picture.width + x);
      const unsigned pixel =
          static_cast<unsigned>(from[0]) << 16U | static_cast<unsigned>(from[1]) << 8U | from[2];
      std::memcpy(rows + y * stride + 4 * x, &pixel, 4);
    }
  }
  cairo_surface_mark_dirty(surface.get());
  const cairo_status_t written = cairo_surface_write_to_png(surface.get(), path.c_str());
  if (written != CAIRO_STATUS_SUCCESS) return tl::unexpected(failed(path, written));
  return {};
}

Result<Picture> read_png(const std::string& path) {
  const Surface surface(cairo_image_surface_create_from_png(path.c_str()), cairo_surface_destroy);
  const cairo_status_t read = cairo_surface_status(surface.get());
  if (read != CAIRO_STATUS_SUCCESS) return tl::unexpected(failed(path, read));
  Picture picture;
  picture.width = cairo_image_surface_get_width(surface.get());
  picture.height = cairo_image_surface_get_height(surface.get());
  const unsigned char* rows = cairo_image_surface_get_data(surface.get());
  const int stride = cairo_image_surface_get_stride(surface.get());
  for (int y = 0; y < picture.height; ++y) {
    for (int x = 0; x < picture.width; ++x) {
      unsigned pixel = 0;
      std::memcpy(&pixel, rows + y * stride + 4 * x, 4);
      for (unsigned shift : {16U, 8U, 0U}) {
        picture.rgba.push_back(static_cast<unsigned char>(pixel >> shift & 0xFFU));
      }
      picture.rgba.push_back(255);
    }
  }
  return picture;
}

Difference difference_of(const Picture& a, const Picture& b, int channel_steps) {
  if (a.width != b.width || a.height != b.height) return {false, 1};
  std::size_t apart = 0;
  for (std::size_t i = 0; i + 3 < a.rgba.size(); i += 4) {
    bool far = false;
    for (std::size_t c = 0; c < 3; ++c) {
      far = far || std::abs(int{a.rgba[i + c]} - int{b.rgba[i + c]}) > channel_steps;
    }
    apart += far ? 1 : 0;
  }
  return {true, static_cast<double>(apart) / (static_cast<double>(a.rgba.size()) / 4)};
}

}  // namespace chipfall::window
