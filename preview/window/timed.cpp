#include "preview/window/timed.h"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include "core/duty/taken.h"

namespace chipfall::window {
namespace {

constexpr double kMost_minutes = 240;  ///< of one duty; the sheet's own bound

}  // namespace

void begin_timed(Timed& timed, const std::string& duty, std::int64_t now_ms) {
  if (timed.duty != duty) timed = {duty, now_ms, 0};
}

std::optional<double> minutes_of(const Timed& timed, double expected_minutes, std::int64_t now_ms) {
  if (timed.own_minutes > 0) return timed.own_minutes;
  return taken_minutes(static_cast<double>(now_ms - timed.begun_ms) / 60'000, expected_minutes);
}

void timed_part(Pen& pen, const std::string& id, Timed& timed, double expected_minutes,
                std::int64_t now_ms) {
  const std::optional<double> minutes = minutes_of(timed, expected_minutes, now_ms);
  pen.card();
  pen.text("Minutes it took, for the next lists", Face::kBold);
  pen.gap(6);
  const int step = pen.stepper(id, minutes ? fmt::format("{} min", *minutes) : "Not timed",
                               {-5, -1, 1, 5}, {"-5", "-1", "+1", "+5"});
  if (step != 0) {
    const double from = std::round(minutes.value_or(0));
    timed.own_minutes = std::clamp(from + step, 1.0, kMost_minutes);
  }
  pen.card_end();
}

}  // namespace chipfall::window
