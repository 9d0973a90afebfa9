#include "preview/window/pen.h"

/// The few signs, drawn as lines so that they grow with the text.
namespace chipfall::window {
namespace {

void care_sign(ImDrawList& list, ImVec2 centre, float r, ImU32 ink) {
  const ImVec2 top{centre.x, centre.y - r * 0.85F};
  const ImVec2 right{centre.x + r, centre.y + r * 0.8F};
  const ImVec2 left{centre.x - r, centre.y + r * 0.8F};
  list.AddTriangle(top, right, left, ink, r * 0.2F);
  list.AddLine({centre.x, centre.y - r * 0.2F}, {centre.x, centre.y + r * 0.28F}, ink, r * 0.24F);
  list.AddCircleFilled({centre.x, centre.y + r * 0.54F}, r * 0.13F, ink);
}

void bin_sign(ImDrawList& list, ImVec2 c, float r, ImU32 ink, float thick) {
  list.AddLine({c.x - r * 0.8F, c.y - r * 0.6F}, {c.x + r * 0.8F, c.y - r * 0.6F}, ink, thick);
  list.AddLine({c.x - r * 0.3F, c.y - r * 0.9F}, {c.x + r * 0.3F, c.y - r * 0.9F}, ink, thick);
  list.AddQuad({c.x - r * 0.6F, c.y - r * 0.6F}, {c.x + r * 0.6F, c.y - r * 0.6F},
               {c.x + r * 0.45F, c.y + r * 0.9F}, {c.x - r * 0.45F, c.y + r * 0.9F}, ink, thick);
}

void map_sign(ImDrawList& list, ImVec2 c, float r, ImU32 ink, float thick) {
  list.AddRect({c.x - r * 0.9F, c.y - r * 0.75F}, {c.x + r * 0.9F, c.y + r * 0.75F}, ink, 2, 0,
               thick);
  list.AddLine({c.x, c.y - r * 0.75F}, {c.x, c.y + r * 0.1F}, ink, thick);
  list.AddCircleFilled({c.x + r * 0.4F, c.y + r * 0.3F}, r * 0.18F, ink);
  list.AddCircleFilled({c.x - r * 0.4F, c.y + r * 0.35F}, r * 0.12F, ink);
}

}  // namespace

void Pen::icon(Icon icon, float x, float y, float size, Rgb colour) {
  const ImU32 ink = colour_of(colour);
  const float r = size / 2;
  const float thick = size * 0.13F;
  const auto at = [&](float dx, float dy) { return ImVec2{x + dx * r, y + dy * r}; };
  const auto path = [&](std::initializer_list<ImVec2> points) {
    list_->AddPolyline(points.begin(), static_cast<int>(points.size()), ink, 0, thick);
  };
  switch (icon) {
    case Icon::kNone:
      break;
    case Icon::kCheck:
      path({at(-0.75F, 0.05F), at(-0.2F, 0.6F), at(0.8F, -0.6F)});
      break;
    case Icon::kBack:
      path({at(0.35F, -0.75F), at(-0.45F, 0), at(0.35F, 0.75F)});
      break;
    case Icon::kNext:
      path({at(-0.35F, -0.75F), at(0.45F, 0), at(-0.35F, 0.75F)});
      break;
    case Icon::kPlus:
      path({at(0, -0.75F), at(0, 0.75F)});
      path({at(-0.75F, 0), at(0.75F, 0)});
      break;
    case Icon::kMinus:
      path({at(-0.75F, 0), at(0.75F, 0)});
      break;
    case Icon::kCross:
      path({at(-0.6F, -0.6F), at(0.6F, 0.6F)});
      path({at(-0.6F, 0.6F), at(0.6F, -0.6F)});
      break;
    case Icon::kPass:
      path({at(-0.8F, 0), at(0.7F, 0)});
      path({at(0.15F, -0.6F), at(0.75F, 0), at(0.15F, 0.6F)});
      break;
    case Icon::kCare:
      care_sign(*list_, {x, y}, r, ink);
      break;
    case Icon::kBin:
      bin_sign(*list_, {x, y}, r, ink, thick);
      break;
    case Icon::kMap:
      map_sign(*list_, {x, y}, r, ink, thick);
      break;
    case Icon::kDot:
      list_->AddCircle({x, y}, r * 0.7F, ink, 0, thick);
      break;
  }
}

}  // namespace chipfall::window
