#include "preview/window/seen.h"

#include <algorithm>

#include <fmt/format.h>

namespace chipfall::window {
namespace {

/// Antialiasing and rounding to whole pixels.
constexpr float kHair = 1.5F;

std::string place(const Rect& at) {
  return fmt::format("({:.0f}, {:.0f}, {:.0f} x {:.0f})", at.left, at.top, at.width(), at.height());
}

void check_size(const Seen& seen, std::vector<std::string>& faults) {
  if (seen.at.width() >= kTargetFloor && seen.at.height() >= kTargetFloor) return;
  faults.push_back(fmt::format("target {} is {:.0f} x {:.0f}, under {:.0f}", seen.id,
                               seen.at.width(), seen.at.height(), kTargetFloor));
}

void check_text(const Seen& seen, std::vector<std::string>& faults) {
  const double least = seen.danger ? kDangerContrast : kTextContrast;
  const double ratio = contrast_of(seen.ink, seen.ground);
  if (ratio < least) {
    faults.push_back(fmt::format("\"{}\" has contrast {:.2f}, under {}", seen.text, ratio, least));
  }
  const bool aside =
      seen.at.left < seen.clip.left - kHair || seen.at.right > seen.clip.right + kHair;
  const bool cut = !seen.scrolls && (seen.at.top < seen.clip.top - kHair ||
                                     seen.at.bottom > seen.clip.bottom + kHair);
  if (aside || cut) {
    faults.push_back(
        fmt::format("\"{}\" {} is cut off by {}", seen.text, place(seen.at), place(seen.clip)));
  }
}

void check_screen(const Seen& seen, const Rect& screen, std::vector<std::string>& faults) {
  const Rect shown = common(seen.at, seen.clip);
  if (shown.width() <= 0 || shown.height() <= 0) return;
  if (shown.left >= screen.left - kHair && shown.right <= screen.right + kHair &&
      shown.top >= screen.top - kHair && shown.bottom <= screen.bottom + kHair) {
    return;
  }
  faults.push_back(
      fmt::format("{} \"{}\" {} runs out of the screen", seen.id, seen.text, place(seen.at)));
}

/// In the same scrolled part, or in none; what scrolls under a fixed part is cut off there.
bool same_layer(const Seen& a, const Seen& b) {
  return a.scrolls == b.scrolls && meet(a.clip, b.clip);
}

/// A label belongs into its target; other text and other targets keep apart.
bool may_meet(const Seen& a, const Seen& b) {
  if (a.kind == SeenKind::kPicture || b.kind == SeenKind::kPicture) return true;
  return a.kind != b.kind && a.id == b.id;
}

}  // namespace

Rect common(const Rect& a, const Rect& b) {
  return {std::max(a.left, b.left), std::max(a.top, b.top), std::min(a.right, b.right),
          std::min(a.bottom, b.bottom)};
}

bool meet(const Rect& a, const Rect& b) {
  const Rect both = common(a, b);
  return both.width() > kHair && both.height() > kHair;
}

const Seen* SeenLayer::target(std::string_view name) const {
  const auto is_target = [](const Seen& seen) { return seen.kind == SeenKind::kTarget; };
  for (const Seen& seen : seen_) {
    if (is_target(seen) && seen.id == name) return &seen;
  }
  for (const Seen& seen : seen_) {
    if (is_target(seen) && seen.text == name) return &seen;
  }
  return nullptr;
}

bool SeenLayer::says(std::string_view words) const {
  std::string all;  // a sentence may go on in the next line
  for (const Seen& seen : seen_) {
    if (seen.kind == SeenKind::kText) all.append(seen.text).append(1, ' ');
  }
  return all.find(words) != std::string::npos;
}

std::string SeenLayer::words() const {
  std::string out;
  for (const Seen& seen : seen_) {
    if (seen.kind == SeenKind::kTarget) {
      out += fmt::format("[{}] {}\n", seen.id, seen.text);
    } else if (seen.id.empty()) {
      out += seen.text + "\n";
    }
  }
  return out;
}

std::vector<std::string> faults_of(const SeenLayer& layer, const Rect& screen) {
  std::vector<std::string> faults;
  const std::vector<Seen>& all = layer.all();
  for (const Seen& seen : all) {
    if (seen.kind == SeenKind::kTarget) check_size(seen, faults);
    if (seen.kind == SeenKind::kText) check_text(seen, faults);
    check_screen(seen, screen, faults);
  }
  for (std::size_t a = 0; a < all.size(); ++a) {
    for (std::size_t b = a + 1; b < all.size(); ++b) {
      if (may_meet(all[a], all[b]) || !same_layer(all[a], all[b])) continue;
      if (!meet(all[a].at, all[b].at)) continue;
      faults.push_back(fmt::format("{} \"{}\" {} lies over {} \"{}\" {}", all[b].id, all[b].text,
                                   place(all[b].at), all[a].id, all[a].text, place(all[a].at)));
    }
  }
  return faults;
}

}  // namespace chipfall::window
