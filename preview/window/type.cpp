#include "preview/window/type.h"

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <optional>

#include <fmt/format.h>

namespace chipfall::window {
namespace {

constexpr std::array<float, kFaces> kSizes{15.5F, 18, 18, 24, 30, 62};
constexpr std::array<float, kFaces> kLines{20, 24, 24, 29, 36, 68};
constexpr std::array<int, kFaces> kWeights{0, 0, 1, 1, 2, 2};

/// What is large already need not double to be legible, and four figures must stay in one line.
constexpr float kLargestFigure_px = 46;
constexpr float kLargestHero_px = 92;

/// Letters that texts of the core use beyond Latin-1.
constexpr std::array<unsigned, 16> kUsual{0x2013, 0x2014, 0x2018, 0x2019, 0x201C, 0x201D,
                                          0x2022, 0x2026, 0x2032, 0x2033, 0x2192, 0x2264,
                                          0x2265, 0x00B2, 0x00B3, 0x00BD};

/// Beyond Latin-1 in one atlas; any more show as the font's sign for a missing letter.
constexpr std::size_t kMostLetters = 1500;

std::optional<std::string> find_font(const std::string& name) {
  namespace fs = std::filesystem;
  std::vector<fs::path> folders{"/usr/share/fonts", "/usr/local/share/fonts", "/Library/Fonts"};
  if (const char* home = std::getenv("HOME")) {
    folders.push_back(fs::path(home) / ".fonts");
    folders.push_back(fs::path(home) / ".local/share/fonts");
  }
  std::error_code ignored;
  // Where Debian puts them, first: walking through all fonts takes longer than the whole start.
  for (const char* usual : {"/usr/share/fonts/truetype/lato", "/usr/share/fonts/truetype/dejavu"}) {
    const fs::path path = fs::path(usual) / name;
    if (fs::exists(path, ignored)) return path.string();
  }
  for (const fs::path& folder : folders) {
    for (auto it = fs::recursive_directory_iterator(folder, ignored);
         !ignored && it != fs::recursive_directory_iterator(); it.increment(ignored)) {
      if (it->path().filename() == name) return it->path().string();
    }
  }
  return std::nullopt;
}

}  // namespace

Result<Type> Type::find() {
  Type type;
  Errors errors;
  constexpr std::array<const char*, 3> kNames{"Lato-Regular.ttf", "Lato-Bold.ttf",
                                              "Lato-Heavy.ttf"};
  for (std::size_t i = 0; i < kNames.size(); ++i) {
    const auto path = find_font(kNames[i]);
    if (path) type.paths_[i] = *path;
    if (!path) {
      errors.push_back({ErrorCode::kUnreadable,
                        "this font is not installed; on Debian: apt-get install fonts-lato",
                        {kNames[i], 0, 0, ""}});
    }
  }
  if (!errors.empty()) return tl::unexpected(errors);
  type.fallback_ = find_font("DejaVuSans.ttf").value_or("");
  type.letters_.insert(kUsual.begin(), kUsual.end());
  return type;
}

float Type::size_px(Face face, float text_size) {
  const float size = kSizes[static_cast<std::size_t>(face)] * text_size;
  if (face == Face::kHero) return std::min(size, kLargestHero_px);
  if (face == Face::kFigure) return std::min(size, kLargestFigure_px);
  return size;
}

float Type::line_px(Face face, float text_size) {
  const auto at = static_cast<std::size_t>(face);
  return std::ceil(size_px(face, text_size) * kLines[at] / kSizes[at]);
}

bool Type::prepare(const std::set<float>& text_sizes, float pixels) {
  const bool same = pixels == pixels_ && letters_.size() == letters_baked_ &&
                    std::ranges::all_of(text_sizes, [&](float size) {
                      return std::ranges::any_of(
                          baked_, [&](const Baked& baked) { return baked.text_size == size; });
                    });
  if (same) return false;
  bake(text_sizes, pixels);
  return true;
}

void Type::bake(const std::set<float>& text_sizes, float pixels) {
  ImFontAtlas& atlas = *ImGui::GetIO().Fonts;
  atlas.Clear();
  atlas.Flags |= ImFontAtlasFlags_NoMouseCursors;
  ImFontGlyphRangesBuilder builder;
  builder.AddRanges(atlas.GetGlyphRangesDefault());
  bool rare = false;
  for (unsigned letter : letters_) {
    builder.AddChar(static_cast<ImWchar>(letter));
    rare = rare || std::ranges::find(kUsual, letter) == kUsual.end();
  }
  ImVector<ImWchar> ranges;
  builder.BuildRanges(&ranges);
  static const std::array<ImWchar, 3> kFigures{0x20, 0x7E, 0};
  baked_.clear();
  for (float text_size : text_sizes) {
    Baked baked;
    baked.text_size = text_size;
    for (std::size_t face = 0; face < kFaces; ++face) {
      ImFontConfig config;
      config.OversampleH = 2;
      config.OversampleV = 1;
      const float px = size_px(static_cast<Face>(face), text_size) * pixels;
      const bool hero = face == static_cast<std::size_t>(Face::kHero);
      const ImWchar* wanted = hero ? kFigures.data() : ranges.Data;
      baked.fonts[face] = atlas.AddFontFromFileTTF(
          paths_[static_cast<std::size_t>(kWeights[face])].c_str(), px, &config, wanted);
      if (rare && !hero && !fallback_.empty()) {
        config.MergeMode = true;
        atlas.AddFontFromFileTTF(fallback_.c_str(), px, &config, wanted);
      }
    }
    baked_.push_back(baked);
  }
  atlas.Build();
  letters_baked_ = letters_.size();
  pixels_ = pixels;
}

ImFont* Type::font(Face face, float text_size) {
  const auto found = std::ranges::find(baked_, text_size, &Baked::text_size);
  const Baked& baked = found == baked_.end() ? baked_.front() : *found;
  return baked.fonts[static_cast<std::size_t>(face)];
}

/// Letters that the atlas lacks are there from the frame after the next `prepare`.
void Type::want(std::string_view text) {
  for (std::size_t i = 0; i < text.size();) {
    const auto lead = static_cast<unsigned char>(text[i]);
    const unsigned bytes = lead < 0x80 ? 1 : lead < 0xE0 ? 2 : lead < 0xF0 ? 3 : 4;
    if (bytes > 1 && i + bytes <= text.size()) {
      unsigned letter = lead & (0xFFU >> (bytes + 1));
      for (unsigned k = 1; k < bytes; ++k) {
        letter = letter << 6U | (static_cast<unsigned char>(text[i + k]) & 0x3FU);
      }
      const bool new_one = letter > 0xFF && letter <= IM_UNICODE_CODEPOINT_MAX;
      if (new_one && letters_.size() < kMostLetters) letters_.insert(letter);
    }
    i += bytes;
  }
}

float Type::width(std::string_view text, Face face, float text_size) {
  want(text);
  const float size = size_px(face, text_size);
  return font(face, text_size)
      ->CalcTextSizeA(size, 1e9F, 0, text.data(), text.data() + text.size())
      .x;
}

std::vector<std::string> Type::lines(const std::string& text, Face face, float text_size,
                                     float width_px) {
  std::vector<std::string> out;
  std::string line;
  const float blank = width(" ", face, text_size);
  float used = 0;
  const auto start_line = [&](const std::string& word, float wide) {
    if (!line.empty()) out.push_back(line);
    line = word;
    used = wide;
  };
  for (std::size_t from = 0; from <= text.size();) {
    const std::size_t to = std::min(text.find(' ', from), text.size());
    std::string word = text.substr(from, to - from);
    from = to + 1;
    if (word.empty()) continue;
    float wide = width(word, face, text_size);
    if (!line.empty() && used + blank + wide <= width_px) {
      line += " " + word;
      used += blank + wide;
      continue;
    }
    start_line("", 0);
    while (wide > width_px && word.size() > 1) {
      std::size_t keep = word.size();
      do {
        --keep;
        while (keep > 1 && (static_cast<unsigned char>(word[keep]) & 0xC0U) == 0x80U) --keep;
      } while (keep > 1 &&
               width(std::string_view(word).substr(0, keep), face, text_size) > width_px);
      out.push_back(word.substr(0, keep));
      word.erase(0, keep);
      wide = width(word, face, text_size);
    }
    line = word;
    used = wide;
  }
  if (!line.empty()) out.push_back(line);
  return out;
}

}  // namespace chipfall::window
