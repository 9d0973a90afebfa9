#pragma once

#include <array>
#include <set>
#include <string>
#include <string_view>
#include <vector>

#include <imgui.h>

#include "core/shop/error.h"

/// The window's letters: where they come from, how large they are, where lines break.
namespace chipfall::window {

enum class Face { kSmall, kBody, kBold, kTitle, kFigure, kHero };
inline constexpr int kFaces = 6;

/// Letters of every face at the sizes in use. Sizes are device-independent pixels at 100 % text.
class Type {
 public:
  /// Finds the font files of the system; the error says which are missing and how they are called.
  static Result<Type> find();

  /// Makes the letters ready for these sizes of text (1 is 100 %) and this many pixels a dip, where
  /// they are not yet. Not within a frame. True: the atlas is another, and has to go to the screen.
  bool prepare(const std::set<float>& text_sizes, float pixels);

  ImFont* font(Face face, float text_size);
  static float size_px(Face face, float text_size);
  static float line_px(Face face, float text_size);

  float width(std::string_view text, Face face, float text_size);

  /// Broken at blanks, and inside a word only where it alone is too wide.
  std::vector<std::string> lines(const std::string& text, Face face, float text_size, float width);

 private:
  struct Baked {
    float text_size = 1;
    std::array<ImFont*, kFaces> fonts{};
  };
  void want(std::string_view text);
  void bake(const std::set<float>& text_sizes, float pixels);

  std::array<std::string, 3> paths_;  ///< regular, bold, heavy
  std::string fallback_;              ///< for letters that the others lack; may be empty
  std::vector<Baked> baked_;
  std::set<unsigned> letters_;  ///< beyond Latin-1, that some text had
  std::size_t letters_baked_ = 0;
  float pixels_ = 0;
};

}  // namespace chipfall::window
