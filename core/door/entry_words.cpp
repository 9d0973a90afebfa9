#include "core/door/entry_words.h"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

namespace chipfall {
namespace {

/// Sessions kept at hand while a page is told; each is read once.
constexpr std::size_t kMostSessionsAtHand = 256;

std::string counted(int n, std::string_view one, std::string_view many) {
  return fmt::format("{} {}", n, n == 1 ? one : many);
}

/// Bytes of the UTF-8 sign that begins here, which a screen must not obey; 0: an ordinary one.
std::size_t obeyed_sign(std::string_view text) {
  const auto at = [&](std::size_t i) {
    return i < text.size() ? static_cast<unsigned char>(text[i]) : 0;
  };
  if (at(0) < 0x20 || at(0) == 0x7F) return 1;
  if (at(0) == 0xC2 && at(1) >= 0x80 && at(1) <= 0x9F) return 2;  // U+0080 to U+009F
  const bool general = at(0) == 0xE2 && at(1) == 0x80;
  if (general && (at(2) == 0x8E || at(2) == 0x8F)) return 3;  // marks of direction
  if (general && at(2) >= 0xA8 && at(2) <= 0xAE) return 3;    // separators, U+202A to U+202E
  if (at(0) == 0xE2 && at(1) == 0x81 && at(2) >= 0xA6 && at(2) <= 0xA9) return 3;  // isolates
  return 0;
}

std::string seen_in_bin(const std::string& seen) {
  if (seen == "room") return "Bin has room";
  if (seen == "half") return "Bin half full";
  if (seen == "full") return "Bin full";
  if (seen == "weak pull") return "Weak pull at a bin";
  return fmt::format("Bin seen {}", plain_line(seen));
}

std::string clock_words(const proto::ClockMeasured& measured) {
  const double s = std::abs(static_cast<double>(measured.ahead_ms())) / 1000;
  if (measured.ahead_ms() == 0) return "Clock of a device: as the hub's";
  return fmt::format("Clock of a device: {} s {} the hub's", short_number(s),
                     measured.ahead_ms() > 0 ? "ahead of" : "behind");
}

template <typename List>
std::string name_in(const List& list, const std::string& id) {
  const Index at = index_of(list, id);
  return at == kNone ? id : list[static_cast<std::size_t>(at)].name;
}

}  // namespace

std::string plain_line(std::string_view text) {
  std::string out;
  while (!text.empty()) {
    const std::size_t sign = obeyed_sign(text);
    if (sign == 0) {
      out += text.front();
      text.remove_prefix(1);
      continue;
    }
    if (!out.empty() && out.back() != ' ') out += ' ';
    text.remove_prefix(sign);
  }
  while (!out.empty() && out.back() == ' ') out.pop_back();
  return out;
}

std::string short_number(double value) {
  if (!std::isfinite(value)) return "?";
  const double tenths = std::round(value * 10) / 10;
  return tenths == std::floor(tenths) ? fmt::format("{:.0f}", tenths)
                                      : fmt::format("{:.1f}", tenths);
}

std::string EntryReader::machine(const std::string& id) const {
  return plain_line(open_ == nullptr ? id : name_in(open_->shop.machines, id));
}

std::string EntryReader::bin(const std::string& id) const {
  return plain_line(open_ == nullptr ? id : name_in(open_->shop.bins, id));
}

std::string EntryReader::zone(const std::string& id) const {
  if (id.empty()) return "Open floor";
  return plain_line(open_ == nullptr ? id : name_in(open_->shop.zones, id));
}

std::string EntryReader::anything(const std::string& id) const {
  if (open_ == nullptr || id.empty()) return plain_line(id);
  const Shop& shop = open_->shop;
  if (index_of(shop.machines, id) != kNone) return machine(id);
  if (index_of(shop.bins, id) != kNone) return bin(id);
  return zone(id);
}

const proto::DutyOwed* EntryReader::owed(const proto::DutyName& name) {
  if (!name.has_session()) return nullptr;
  const std::pair key(name.session().device(), name.session().sequence());
  auto it = sessions_.find(key);
  if (it == sessions_.end()) {
    if (sessions_.size() >= kMostSessionsAtHand) sessions_.clear();
    it = sessions_.emplace(key, proto::SessionEnded()).first;
    // A session that cannot be read leaves its duties without titles; their ids stand in.
    const auto bytes = store_->bytes_of(key.first, key.second);
    proto::Entry entry;
    if (bytes && *bytes && entry.ParseFromString(**bytes)) it->second = entry.session_ended();
  }
  for (const proto::DutyOwed& owed : it->second.owed()) {
    if (owed.id() == name.id()) return &owed;
  }
  return nullptr;
}

void EntryReader::put_ending(std::string_view verb, const proto::DutyName& name, EntryWords& out) {
  const proto::DutyOwed* owed_duty = owed(name);
  const bool titled = owed_duty != nullptr && !owed_duty->title().empty();
  out.what = fmt::format("{}: {}", verb, plain_line(titled ? owed_duty->title() : name.id()));
  if (owed_duty != nullptr) out.place = plain_line(owed_duty->place());
}

EntryWords EntryReader::words(const proto::Entry& entry) {
  EntryWords out;
  switch (entry.payload_case()) {
    case proto::Entry::kSessionEnded: {
      const proto::SessionEnded& ended = entry.session_ended();
      out.kind = "session";
      out.what = fmt::format("Session ended, {}, {} listed",
                             counted(ended.session().uses_size(), "use", "uses"),
                             counted(ended.owed_size(), "duty", "duties"));
      out.name = plain_line(ended.session().name());
      out.people = std::max(1, ended.session().people());
      if (ended.session().minutes() > 0) out.minutes = ended.session().minutes();
      break;
    }
    case proto::Entry::kDutyDone: {
      const proto::DutyDone& done = entry.duty_done();
      out.kind = "done";
      put_ending("Done", done.duty(), out);
      if (done.has_minutes()) out.minutes = done.minutes();
      out.people = std::max(1, done.people());
      break;
    }
    case proto::Entry::kDutyPassedOn:
      out.kind = "passed on";
      put_ending("Passed on", entry.duty_passed_on().duty(), out);
      out.reason = plain_line(entry.duty_passed_on().reason());
      break;
    case proto::Entry::kDutyNotNeeded:
      out.kind = "not needed";
      put_ending("Not needed", entry.duty_not_needed().duty(), out);
      out.reason = plain_line(entry.duty_not_needed().reason());
      break;
    case proto::Entry::kDutyReopened:
      out.kind = "reopened";
      put_ending("Open again", entry.duty_reopened().duty(), out);
      out.reason = plain_line(entry.duty_reopened().reason());
      break;
    case proto::Entry::kBinSeen:
      out.kind = "bin";
      out.place = bin(entry.bin_seen().bin());
      out.what = seen_in_bin(entry.bin_seen().seen());
      break;
    case proto::Entry::kBinEmptied:
      out.kind = "emptied";
      out.place = bin(entry.bin_emptied().bin());
      out.what = entry.bin_emptied().bag_replaced() ? "Bin emptied, new bag" : "Bin emptied";
      break;
    case proto::Entry::kZoneSeen:
      out.kind = "zone";
      out.place = zone(entry.zone_seen().zone());
      out.what =
          fmt::format("Zone {} than the list expected", plain_line(entry.zone_seen().seen()));
      break;
    case proto::Entry::kMachineOut:
      out.kind = "out";
      out.place = machine(entry.machine_out().machine());
      out.what = "Out of order";
      out.reason = plain_line(entry.machine_out().reason());
      break;
    case proto::Entry::kMachineBack:
      out.kind = "back";
      out.place = machine(entry.machine_back().machine());
      out.what = "Back in service";
      out.reason = plain_line(entry.machine_back().note());
      break;
    case proto::Entry::kSupplyLow:
      out.kind = "low";
      out.what = fmt::format("Running low: {}", plain_line(entry.supply_low().supply()));
      if (entry.supply_low().has_left()) {
        out.reason = fmt::format("{} left", short_number(entry.supply_low().left()));
      }
      break;
    case proto::Entry::kSupplyRestocked:
      out.kind = "restocked";
      out.what = fmt::format("Restocked: {}", plain_line(entry.supply_restocked().supply()));
      if (entry.supply_restocked().has_added()) {
        out.reason = fmt::format("{} added", short_number(entry.supply_restocked().added()));
      }
      break;
    case proto::Entry::kShopClosed:
      out.kind = "closed";
      out.what = fmt::format("Shop closed, {} open",
                             counted(entry.shop_closed().open_size(), "duty", "duties"));
      out.reason = plain_line(entry.shop_closed().note());
      break;
    case proto::Entry::kNote:
      out.kind = "note";
      out.what = "Note";
      out.place = anything(entry.note().place());
      out.reason = plain_line(entry.note().text());
      break;
    case proto::Entry::kSheetRevision:
      out.kind = "sheet";
      out.what = "Shop sheet revised";
      out.name = plain_line(entry.sheet_revision().revision());
      break;
    case proto::Entry::kClockMeasured:
      out.kind = "clock";
      out.what = clock_words(entry.clock_measured());
      break;
    default:
      out.what = "Something that a newer version knows";
      break;
  }
  return out;
}

std::string EntryReader::line(const proto::Entry& entry) {
  const EntryWords told = words(entry);
  std::string text = told.what;
  const auto add = [&](std::string_view before, std::string_view more, std::string_view after) {
    if (more.empty()) return;
    fmt::format_to(std::back_inserter(text), "{}{}{}", before, more, after);
  };
  const auto next = [&] { return text.find(": ") == std::string::npos ? ": " : ", "; };
  if (entry.has_note()) {
    add(": ", told.reason, "");
    add(" (", told.place, ")");
    return text;
  }
  add(fmt::format("{}\"", next()), told.name, "\"");
  // A duty's title names its place already.
  const bool titled = entry.has_duty_done() || entry.has_duty_passed_on() ||
                      entry.has_duty_not_needed() || entry.has_duty_reopened();
  if (!titled) add(next(), told.place, "");
  if (told.minutes) add(", ", short_number(*told.minutes), " min");
  if (told.people > 1) add(", ", fmt::format("{} people", told.people), "");
  add(" (", told.reason, ")");
  return text;
}

}  // namespace chipfall
