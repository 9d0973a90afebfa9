#include "preview/terminal/canvas.h"

#include <algorithm>
#include <cerrno>
#include <cmath>
#include <cstdio>
#include <cstring>
#include <filesystem>
#include <numbers>

#include <cairo-pdf.h>
#include <cairo-svg.h>
#include <cairo.h>
#include <fmt/format.h>
#include <unistd.h>

namespace chipfall {
namespace {

namespace fs = std::filesystem;

constexpr double kPixelsPerPoint = 2;
// Narrow letters: shop names and duties are long, and a page is small. Where the family is missing,
// fontconfig hands out the nearest it has.
constexpr const char* kFamily = "DejaVu Sans Condensed";
constexpr const char* kEndings = ".svg, .png or .pdf";

tl::unexpected<Errors> failure(ErrorCode code, const std::string& path, std::string message) {
  return tl::make_unexpected(
      Errors{Error{code, std::move(message), Place{path, 0, 0, std::string()}}});
}

std::string ending_of(const std::string& path) {
  std::string ending = fs::path(path).extension().string();
  std::ranges::transform(ending, ending.begin(), [](char letter) {
    return letter >= 'A' && letter <= 'Z' ? static_cast<char>(letter - 'A' + 'a') : letter;
  });
  return ending;
}

cairo_status_t append(void* bytes, const unsigned char* more, unsigned int length) {
  static_cast<std::string*>(bytes)->append(reinterpret_cast<const char*>(more), length);
  return CAIRO_STATUS_SUCCESS;
}

cairo_surface_t* surface_for(const std::string& ending, double width_pt, double height_pt,
                             std::string* bytes) {
  if (ending == ".svg") {
    return cairo_svg_surface_create_for_stream(append, bytes, width_pt, height_pt);
  }
  if (ending == ".pdf") {
    return cairo_pdf_surface_create_for_stream(append, bytes, width_pt, height_pt);
  }
  return cairo_image_surface_create(CAIRO_FORMAT_RGB24,
                                    static_cast<int>(std::ceil(kPixelsPerPoint * width_pt)),
                                    static_cast<int>(std::ceil(kPixelsPerPoint * height_pt)));
}

/// 0, or the errno of what went wrong.
int write_all(const fs::path& path, const std::string& bytes) {
  std::FILE* file = std::fopen(path.c_str(), "wbx");  // x: never through somebody's link
  if (file == nullptr) return errno;
  int wrong = 0;
  if (std::fwrite(bytes.data(), 1, bytes.size(), file) != bytes.size()) wrong = errno;
  if (wrong == 0 && (std::fflush(file) != 0 || fsync(fileno(file)) != 0)) wrong = errno;
  if (std::fclose(file) != 0 && wrong == 0) wrong = errno;
  return wrong;
}

std::string advice(int wrong) {
  if (wrong == ENOENT || wrong == ENOTDIR) return "make the folder first, or choose another";
  if (wrong == EACCES || wrong == EPERM || wrong == EROFS) return "choose a folder that is yours";
  if (wrong == ENOSPC || wrong == EDQUOT) return "make room, then try again";
  return "choose another place";
}

Result<void> replace_file(const std::string& path, const std::string& bytes) {
  std::error_code ignored;
  // A link keeps pointing to its file; only the file behind it is replaced.
  const fs::path target =
      fs::is_symlink(path, ignored) ? fs::weakly_canonical(path, ignored) : fs::path(path);
  if (fs::exists(target, ignored) && !fs::is_regular_file(target, ignored)) {
    return failure(ErrorCode::kUnreadable, path, "is not a file: choose another name");
  }
  const fs::path part =
      target.parent_path() / fmt::format(".{}.{}.part", target.filename().string(), getpid());
  int wrong = write_all(part, bytes);
  if (wrong == 0 && std::rename(part.c_str(), target.c_str()) != 0) wrong = errno;
  if (wrong == 0) return {};
  if (wrong != EEXIST) fs::remove(part, ignored);
  return failure(ErrorCode::kUnreadable, path,
                 fmt::format("cannot be written ({}): {}", std::strerror(wrong), advice(wrong)));
}

}  // namespace

void Canvas::Drop::operator()(_cairo* context) const { cairo_destroy(context); }
void Canvas::Drop::operator()(_cairo_surface* surface) const { cairo_surface_destroy(surface); }

Result<Canvas> Canvas::open(const std::string& path, double width_pt, double height_pt,
                            const std::string& title) {
  const std::string ending = ending_of(path);
  if (ending != ".svg" && ending != ".png" && ending != ".pdf") {
    return failure(ErrorCode::kUnknown, path,
                   ending.empty()
                       ? fmt::format("has no ending to choose a format by: add {}", kEndings)
                       : fmt::format("\"{}\" is not a picture this program draws: end the name in "
                                     "{}",
                                     clean_text(ending), kEndings));
  }
  Canvas canvas;
  canvas.path_ = path;
  canvas.pixels_ = ending == ".png";
  canvas.bytes_ = std::make_unique<std::string>();
  canvas.surface_.reset(surface_for(ending, width_pt, height_pt, canvas.bytes_.get()));
  if (ending == ".pdf") {
    cairo_pdf_surface_set_metadata(canvas.surface_.get(), CAIRO_PDF_METADATA_TITLE,
                                   clean_text(title).c_str());
  }
  canvas.context_.reset(cairo_create(canvas.surface_.get()));
  const cairo_status_t status = cairo_status(canvas.context_.get());
  if (status != CAIRO_STATUS_SUCCESS) {
    return failure(ErrorCode::kOutOfBounds, path,
                   fmt::format("no page to draw on: {}", cairo_status_to_string(status)));
  }
  if (canvas.pixels_) cairo_scale(canvas.context_.get(), kPixelsPerPoint, kPixelsPerPoint);
  cairo_set_line_join(canvas.context_.get(), CAIRO_LINE_JOIN_ROUND);
  canvas.fill(rectangle(0, 0, width_pt, height_pt), kWhite);
  return canvas;
}

Result<void> Canvas::finish() {
  cairo_status_t status = cairo_status(context_.get());
  cairo_surface_flush(surface_.get());
  if (status == CAIRO_STATUS_SUCCESS && pixels_) {
    status = cairo_surface_write_to_png_stream(surface_.get(), append, bytes_.get());
  }
  cairo_surface_finish(surface_.get());
  if (status == CAIRO_STATUS_SUCCESS) status = cairo_surface_status(surface_.get());
  if (status != CAIRO_STATUS_SUCCESS) {
    return failure(ErrorCode::kOutOfBounds, path_,
                   fmt::format("cannot be drawn: {}", cairo_status_to_string(status)));
  }
  return replace_file(path_, *bytes_);
}

namespace {

void use(cairo_t* context, Ink ink) { cairo_set_source_rgb(context, ink.red, ink.green, ink.blue); }

void use(cairo_t* context, const Face& face) {
  cairo_select_font_face(context, kFamily,
                         face.slanted ? CAIRO_FONT_SLANT_ITALIC : CAIRO_FONT_SLANT_NORMAL,
                         face.bold ? CAIRO_FONT_WEIGHT_BOLD : CAIRO_FONT_WEIGHT_NORMAL);
  cairo_set_font_size(context, face.size_pt);
}

}  // namespace

Measure Canvas::measure() const {
  cairo_t* context = context_.get();
  return [context](const std::string& text, const Face& face) {
    use(context, face);
    cairo_text_extents_t extents;
    cairo_text_extents(context, clean_text(text).c_str(), &extents);
    return extents.x_advance;
  };
}

void Canvas::text(Point at, const std::string& text, const Face& face, Ink ink) {
  use(context_.get(), face);
  use(context_.get(), ink);
  cairo_move_to(context_.get(), at.x, at.y);
  cairo_show_text(context_.get(), clean_text(text).c_str());
  cairo_new_path(context_.get());
}

void Canvas::trace(const Polygon& points, bool closed) {
  cairo_new_path(context_.get());
  for (Point p : points) cairo_line_to(context_.get(), p.x, p.y);
  if (closed) cairo_close_path(context_.get());
}

void Canvas::stroke(const Pen& pen) {
  use(context_.get(), pen.ink);
  cairo_set_line_width(context_.get(), pen.width_pt);
  cairo_set_dash(context_.get(), pen.dashes_pt.data(), static_cast<int>(pen.dashes_pt.size()), 0);
  cairo_stroke(context_.get());
}

void Canvas::fill(const Polygon& corners, Ink ink) {
  trace(corners, true);
  use(context_.get(), ink);
  cairo_fill(context_.get());
}

void Canvas::outline(const Polygon& corners, const Pen& pen) {
  trace(corners, true);
  stroke(pen);
}

void Canvas::line(const Polygon& points, const Pen& pen) {
  trace(points, false);
  stroke(pen);
}

void Canvas::disc(Point centre, double radius_pt, Ink ink) {
  cairo_new_path(context_.get());
  cairo_arc(context_.get(), centre.x, centre.y, radius_pt, 0, 2 * std::numbers::pi);
  use(context_.get(), ink);
  cairo_fill(context_.get());
}

void Canvas::circle(Point centre, double radius_pt, const Pen& pen) {
  cairo_new_path(context_.get());
  cairo_arc(context_.get(), centre.x, centre.y, radius_pt, 0, 2 * std::numbers::pi);
  stroke(pen);
}

void Canvas::hatch(const Polygon& corners, double spacing_pt, const Pen& pen) {
  if (corners.empty()) return;
  const Box box = bounds(corners);
  const double height = box.high.y - box.low.y;
  clip(corners);
  cairo_new_path(context_.get());
  // Laid from the page's corner, so that the lines of neighbouring zones meet.
  const double first = std::floor((box.low.x + box.low.y) / spacing_pt) * spacing_pt;
  for (double sum = first; sum < box.high.x + box.high.y; sum += spacing_pt) {
    cairo_move_to(context_.get(), sum - box.low.y, box.low.y);
    cairo_line_to(context_.get(), sum - box.low.y - height, box.high.y);
  }
  stroke(pen);
  unclip();
}

void Canvas::clip(const Polygon& corners) {
  cairo_save(context_.get());
  trace(corners, true);
  cairo_clip(context_.get());
}

void Canvas::unclip() { cairo_restore(context_.get()); }

}  // namespace chipfall
