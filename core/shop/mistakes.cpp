#include "core/shop/mistakes.h"

#include <algorithm>
#include <cmath>
#include <set>

#include <fmt/format.h>

namespace chipfall {
namespace {

constexpr size_t kLongestId = 64;     ///< ids stand in titles, paths and labels
constexpr size_t kLongestQuote = 80;  ///< in bytes; a line on a screen

bool fits_id(char c) {
  return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') || c == '-' ||
         c == '_' || c == '.';
}

std::string with_unit(double value, std::string_view unit) {
  return unit.empty() ? fmt::format("{}", value) : fmt::format("{} {}", value, unit);
}

}  // namespace

Spot Spot::operator[](std::string_view field) const {
  Spot inner = *this;
  if (!inner.path_.empty()) inner.path_ += '.';
  inner.path_ += field;
  return inner;
}

Spot Spot::entry(std::string_view list, int index) const {
  Spot inner = (*this)[list];
  inner.path_ += fmt::format("[{}]", index);
  return inner;
}

void Spot::mistake(std::string message, ErrorCode code) const {
  errors_->push_back({code, std::move(message), {"", 0, 0, path_}});
}

bool check_range(const Spot& at, double value, double low, double high, std::string_view unit) {
  if (value >= low && value <= high) return true;
  if (!std::isfinite(value)) {
    at.mistake(fmt::format("{} is not a figure; give {} to {}", value, low, with_unit(high, unit)));
  } else if (value == 0) {
    at.mistake(fmt::format("missing or 0; give {} to {}", low, with_unit(high, unit)));
  } else {
    at.mistake(
        fmt::format("{} is outside {} to {}", with_unit(value, unit), low, with_unit(high, unit)));
  }
  return false;
}

bool check_positive(const Spot& at, double value, double most, std::string_view unit) {
  if (value > 0 && value <= most) return true;
  const std::string right = fmt::format("more than 0 and at most {}", with_unit(most, unit));
  if (!std::isfinite(value)) {
    at.mistake(fmt::format("{} is not a figure; give {}", value, right));
  } else if (value == 0) {
    at.mistake(fmt::format("missing or 0; give {}", right));
  } else {
    at.mistake(fmt::format("{} cannot be; give {}", with_unit(value, unit), right));
  }
  return false;
}

bool check_length(const Spot& at, std::string_view list, int size, int most) {
  if (size <= most) return true;
  at.entry(list, most)
      .mistake(fmt::format("{} entries are too many; at most {} are read", size, most),
               ErrorCode::kOutOfBounds);
  return false;
}

std::string in_quotes(std::string_view text) {
  if (text.size() <= kLongestQuote) return fmt::format("\"{}\"", text);
  size_t end = kLongestQuote;
  while (end > 0 && (text[end] & 0xC0) == 0x80) --end;  // never within a UTF-8 character
  return fmt::format("\"{}...\"", text.substr(0, end));
}

bool check_id(const Spot& at, const std::string& id) {
  if (id.empty()) {
    at.mistake("missing: give an id, such as \"table-saw\"");
  } else if (id.size() > kLongestId) {
    at.mistake(fmt::format("{} letters are too long for an id; at most {}", id.size(), kLongestId));
  } else if (!std::ranges::all_of(id, fits_id)) {
    at.mistake(fmt::format("{} does not fit as an id; use letters, digits, - _ and . only",
                           in_quotes(id)));
  } else {
    return true;
  }
  return false;
}

void check_ids(const Spot& at, std::string_view list, const std::vector<std::string>& ids) {
  std::set<std::string_view> seen;
  for (size_t i = 0; i < ids.size(); ++i) {
    const Spot id = at.entry(list, static_cast<int>(i))["id"];
    if (!check_id(id, ids[i])) continue;
    if (!seen.insert(ids[i]).second) {
      id.mistake(fmt::format("\"{}\" stands twice in {}; give each its own id", ids[i], list));
    }
  }
}

bool Known::has(std::string_view id) const { return std::ranges::find(ids, id) != ids.end(); }

bool check_reference(const Spot& at, const std::string& id, const Known& known) {
  if (!id.empty() && known.has(id)) return true;
  if (id.empty()) {
    at.mistake(fmt::format("missing: name {}, {}", known.noun, one_of(known.ids)));
  } else {
    at.mistake(fmt::format("{} is not {} here; {}{}", in_quotes(id), known.noun, one_of(known.ids),
                           did_you_mean(id, known.ids)));
  }
  return false;
}

std::string_view class_field(ChipClass chip_class) {
  constexpr std::array<std::string_view, kChipClasses> kFields{"shavings", "chips", "coarse",
                                                               "fine"};
  return kFields[static_cast<size_t>(chip_class)];
}

std::array<std::optional<double>, kChipClasses> per_class(const proto::PerClass& figures) {
  std::array<std::optional<double>, kChipClasses> out;
  if (figures.has_shavings()) out[kShavings] = figures.shavings();
  if (figures.has_chips()) out[kChips] = figures.chips();
  if (figures.has_coarse()) out[kCoarse] = figures.coarse();
  if (figures.has_fine()) out[kFine] = figures.fine();
  return out;
}

void check_shares(const Spot& at, const proto::PerClass& shares) {
  const auto figures = per_class(shares);
  for (ChipClass c : kAllClasses) {
    if (figures[c]) check_range(at[class_field(c)], *figures[c], 0, 1);
  }
}

}  // namespace chipfall
