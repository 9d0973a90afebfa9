#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include "core/duty/say.h"
#include "core/shop/words.h"
#include "preview/terminal/sheet_words.h"
#include "preview/window/screens.h"

namespace chipfall::window {
namespace {

constexpr double kWidest_share = 1.3;  ///< where the answer's chances end: heaped over the brim

bool pressing(const proto::BinOutlook& bin) {
  return bin.known() && !bin.look_first() &&
         (bin.chance_full() >= 0.5 || (bin.has_days_to_due() && bin.days_to_due() <= 0));
}

/// What to do about it, in words.
std::string verdict(const proto::BinOutlook& bin) {
  if (bin.look_first()) return "Look into it first";
  if (pressing(bin)) return "Empty it now";
  if (bin.known() && bin.has_days_to_due() && bin.days_to_due() <= 7) return "Empty it this week";
  return bin.known() ? "Not yet" : "Nobody has looked yet";
}

/// To the nearest 5 %: nobody knows it better.
std::string fill_words(const proto::BinOutlook& bin, Units units) {
  const std::string volume = say_volume(bin.volume_l() / 1000, units);
  if (!bin.known()) return fmt::format("Holds {}; nobody has told how full it is.", volume);
  const double fill = std::round(20 * bin.expected_fill_share()) / 20;
  if (fill >= 1) return fmt::format("Probably full to the brim ({}) or over it.", volume);
  if (fill < 0.05) return fmt::format("Probably as good as empty ({}).", volume);
  return fmt::format("Probably about {} full of {}.", say_percent(fill), volume);
}

/// The likely fill as a bar, how sure that is as a hill over it, and the mark to empty at.
void belief_bar(Pen& pen, const proto::BinOutlook& bin) {
  constexpr float kHill_px = 26;
  constexpr float kBar_px = 16;
  const Rect at = pen.picture("bin-bar/" + bin.id(), "belief", kHill_px + kBar_px + 4);
  if (!meet(at, pen.clip())) return;
  const auto x_of = [&](double share) {
    return at.left +
           static_cast<float>(std::clamp(share, 0.0, kWidest_share) / kWidest_share) * at.width();
  };
  ImDrawList& list = pen.list();
  const float base = at.top + kHill_px;
  const auto& chances = bin.fill_chances();
  const double most = chances.empty() ? 0 : *std::ranges::max_element(chances);
  // Without smoothed edges, else the seams between the pieces shine through.
  const ImDrawListFlags before = list.Flags;
  list.Flags &= ~ImDrawListFlags_AntiAliasedFill;
  for (int i = 0; i + 1 < chances.size() && most > 0; ++i) {
    const auto high = [&](int k) {
      return base - static_cast<float>(chances[k] / most) * kHill_px;
    };
    const float left = x_of(0.02 * i);
    const float right = x_of(0.02 * (i + 1));
    list.AddQuadFilled({left, base}, {left, high(i)}, {right, high(i + 1)}, {right, base},
                       colour_of(0xb98a4e));
  }
  list.Flags = before;
  const Rect bar{at.left, base, at.right, base + kBar_px};
  pen.fill(bar, kPaper, 4);
  if (bin.known()) {
    const float to = std::max(at.left + 4, x_of(bin.expected_fill_share()));
    pen.fill({at.left, base, to, bar.bottom}, kWalnut, 4);
  }
  pen.edge(bar, kGrain, 1.5F, 4);
  list.AddLine({x_of(1), base - 3}, {x_of(1), bar.bottom + 3}, colour_of(kInk), 2);
  const float mark = x_of(bin.empty_at_share());
  list.AddTriangleFilled({mark, bar.bottom - 5}, {mark + 6, bar.bottom + 5},
                         {mark - 6, bar.bottom + 5}, colour_of(kBrick));
}

std::string lift_words(const proto::BinOutlook& bin, Units units) {
  std::string who = bin.people() > 1 ? people_in_words(bin.people()) : std::string("one person");
  if (bin.lift().index() > bin.people()) who += ", some scooped out first";
  return fmt::format("Full it weighs about {}: for {} to lift.",
                     say_mass(1000 * bin.full_kg(), units), who);
}

void emptied(Phone& phone, const std::string& bin) {
  proto::Record what;
  what.mutable_bin_emptied()->set_bin(bin);
  phone.record(what, [&phone](const proto::Recorded&) { phone.ask_coordinator(); });
}

void bin_card(Pen& pen, Phone& phone, const proto::BinOutlook& bin, Units units) {
  const bool now = pressing(bin);
  pen.card(now ? kSanded : kCard, now ? kWalnut : kHairline);
  pen.text(bin.name(), Face::kBold);
  pen.text(verdict(bin), Face::kTitle);
  pen.gap(2);
  belief_bar(pen, bin);
  pen.gap(6);
  pen.text(fill_words(bin, units));
  if (bin.known()) {
    if (!bin.evidence().empty()) pen.named("Because", bin.evidence());
    if (!bin.forecast().empty()) pen.named("Then", bin.forecast());
  }
  for (const std::string& doubt : bin.doubts()) pen.named("But", doubt);
  if (!bin.pace().empty()) pen.named("Pace", bin.pace());
  if (bin.has_lift()) pen.text(lift_words(bin, units), Face::kSmall, kSoftInk);
  if (!bin.bag().empty() && bin.has_bags_left()) {
    pen.text(fmt::format("{}: {:.4g} left", bin.bag(), bin.bags_left()), Face::kSmall, kSoftInk);
  }
  pen.gap(8);
  const int tapped =
      pen.buttons({{"bin-looked/" + bin.id(), "I looked", Look::kPlain, Icon::kBin},
                   {"bin-emptied/" + bin.id(), "Emptied", Look::kPlain, Icon::kCheck}});
  if (tapped == 0) {
    phone.bin = bin.id();
    phone.saved.clear();
    phone.go(Screen::kBinSeen);
  }
  if (tapped == 1) emptied(phone, bin.id());
  pen.card_end();
}

}  // namespace

void bins_part(Pen& pen, Phone& phone) {
  const proto::Bins& bins = phone.coordinator.answer->bins();
  const Units units = parse<Units>(bins.units()).value_or(Units::kMetric);
  pen.text(fmt::format("On {}, most pressing first.", bins.as_of()));
  pen.text("Bar: likely fill. Hill: how sure. Triangle: empty it here. Line: the brim.",
           Face::kSmall, kSoftInk);
  pen.gap();
  for (const proto::BinOutlook& bin : bins.bins()) bin_card(pen, phone, bin, units);
  for (const std::string& note : bins.notes()) pen.bullet(note);
}

}  // namespace chipfall::window
