#include "preview/terminal/text_flow.h"

#include <algorithm>
#include <utility>

namespace chipfall {
namespace {

constexpr std::string_view kReplacement = "\xEF\xBF\xBD";
constexpr std::string_view kEllipsis = "…";

unsigned byte_at(std::string_view text, size_t at) { return static_cast<unsigned char>(text[at]); }

/// Bytes of the well-formed character at `at`; 0 where there is none. Unicode 15, table 3-7.
size_t character_bytes(std::string_view text, size_t at) {
  const unsigned lead = byte_at(text, at);
  if (lead < 0x80) return 1;
  const size_t length = lead >= 0xF0 ? 4 : lead >= 0xE0 ? 3 : 2;
  if (lead < 0xC2 || lead > 0xF4 || at + length > text.size()) return 0;
  for (size_t i = 1; i < length; ++i) {
    if ((byte_at(text, at + i) & 0xC0U) != 0x80) return 0;
  }
  const unsigned second = byte_at(text, at + 1);
  const bool overlong = (lead == 0xE0 && second < 0xA0) || (lead == 0xF0 && second < 0x90);
  const bool surrogate = lead == 0xED && second >= 0xA0;
  const bool beyond = lead == 0xF4 && second >= 0x90;
  return overlong || surrogate || beyond ? 0 : length;
}

std::vector<std::string> words_of(const std::string& text) {
  std::vector<std::string> words;
  for (size_t at = 0; at < text.size();) {
    const size_t end = std::min(text.find(' ', at), text.size());
    if (end > at) words.push_back(text.substr(at, end - at));
    at = end + 1;
  }
  return words;
}

/// Bytes of the longest beginning that fits, one character at least.
size_t bytes_that_fit(const std::string& word, const Face& face, double width_pt,
                      const Measure& measure) {
  size_t fit = 0;
  while (fit < word.size()) {
    const size_t next = fit + std::max<size_t>(1, character_bytes(word, fit));
    if (fit > 0 && measure(word.substr(0, next), face) > width_pt) break;
    fit = next;
  }
  return fit;
}

}  // namespace

double line_pt(const Face& face) { return 1.18 * face.size_pt; }

double ascent_pt(const Face& face) { return 0.95 * face.size_pt; }

std::string clean_text(std::string_view text) {
  std::string out;
  for (size_t at = 0; at < text.size();) {
    const size_t length = character_bytes(text, at);
    if (length == 0) {
      out += kReplacement;
      ++at;
      continue;
    }
    const unsigned lead = byte_at(text, at);
    out += lead < 0x20 || lead == 0x7F ? std::string_view(" ") : text.substr(at, length);
    at += length;
  }
  return out;
}

std::vector<std::string> wrap(const std::string& text, const Face& face, double width_pt,
                              const Measure& measure) {
  std::vector<std::string> lines;
  std::string line;
  for (std::string word : words_of(clean_text(text))) {
    const std::string longer = line.empty() ? word : line + " " + word;
    if (measure(longer, face) <= width_pt) {
      line = longer;
      continue;
    }
    if (!line.empty()) lines.push_back(std::exchange(line, {}));
    while (measure(word, face) > width_pt) {
      const size_t fit = bytes_that_fit(word, face, width_pt, measure);
      if (fit >= word.size()) break;
      lines.push_back(word.substr(0, fit));
      word.erase(0, fit);
    }
    line = word;
  }
  if (!line.empty() || lines.empty()) lines.push_back(line);
  return lines;
}

std::string shorten(const std::string& text, const Face& face, double width_pt,
                    const Measure& measure) {
  std::string clean = clean_text(text);
  if (measure(clean, face) <= width_pt) return clean;
  const double room_pt = width_pt - measure(std::string(kEllipsis), face);
  std::string head = clean.substr(0, bytes_that_fit(clean, face, room_pt, measure));
  while (!head.empty() && head.back() == ' ') head.pop_back();
  return head + std::string(kEllipsis);
}

double widest_pt(const std::vector<std::string>& lines, const Face& face, const Measure& measure) {
  double widest = 0;
  for (const std::string& line : lines) widest = std::max(widest, measure(line, face));
  return widest;
}

}  // namespace chipfall
