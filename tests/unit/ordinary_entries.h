#pragma once

#include <fmt/format.h>

#include <cmath>
#include <cstdint>
#include <random>
#include <string>
#include <vector>

#include "core/proto/ledger.pb.h"

/// Entries as an ordinary shop makes them, for measuring: ten phones, one session after another.
/// A session leaves a list of about ten duties, then most of them done with their minutes, one or
/// two passed on, a word on a bin, seldom a note: one list in about fifteen entries.
namespace chipfall {

class OrdinaryEntries {
 public:
  /// With `rounded`, a list's minutes and weights are written to a tenth and a thousandth; without,
  /// to the last bit.
  explicit OrdinaryEntries(std::uint32_t seed, bool rounded = true, int phones = 10)
      : random_(seed), rounded_(rounded) {
    for (int i = 0; i < phones; ++i) {
      std::string name(16, '\0');
      for (char& byte : name) byte = static_cast<char>(random_());
      phones_.push_back({name, 0});
    }
  }

  /// The next session's entries.
  std::vector<proto::Entry> session() {
    Phone& phone = phones_[random_() % phones_.size()];
    now_ms_ += 20 * 60'000 + below(180 * 60'000);
    const std::string member = fmt::format("member-{}", random_() % 40);
    std::vector<proto::Entry> made;
    proto::Entry ended = begin(phone, member);
    auto& list = *ended.mutable_session_ended();
    put_session(*list.mutable_session());
    const auto duties = 8 + random_() % 5;
    for (std::uint32_t i = 0; i < duties; ++i) *list.add_owed() = duty();
    made.push_back(ended);
    for (const proto::DutyOwed& owed : list.owed()) {
      now_ms_ += 20'000 + below(300'000);
      proto::Entry entry = begin(phone, member);
      put_ending(entry, owed, ended);
      made.push_back(std::move(entry));
    }
    for (std::uint32_t i = 0; i < 2 + random_() % 3; ++i) {
      now_ms_ += below(60'000);
      proto::Entry entry = begin(phone, member);
      static const char* const kSeen[] = {"room", "half", "full", "weak pull"};
      entry.mutable_bin_seen()->set_bin(fmt::format("bin-{}", random_() % 9));
      entry.mutable_bin_seen()->set_seen(kSeen[random_() % 4]);
      made.push_back(std::move(entry));
    }
    if (random_() % 10 == 0) {
      proto::Entry entry = begin(phone, member);
      entry.mutable_note()->set_text(
          fmt::format("the guard of the band saw is loose, number {}", random_() % 1000));
      entry.mutable_note()->set_place("band-saw");
      made.push_back(std::move(entry));
    }
    return made;
  }

  /// So many entries' bytes, in the order in which they were made.
  std::vector<std::string> bytes(std::size_t count) {
    std::vector<std::string> all;
    while (all.size() < count) {
      for (const proto::Entry& entry : session()) {
        if (all.size() < count) all.push_back(entry.SerializeAsString());
      }
    }
    return all;
  }

 private:
  struct Phone {
    std::string name;
    std::uint64_t sequence;
  };

  std::int64_t below(std::int64_t bound) {
    return static_cast<std::int64_t>(random_() % static_cast<std::uint32_t>(bound));
  }

  double figure(double most, double step) {
    const double value = most * double(random_()) / double(std::mt19937::max());
    return rounded_ ? std::round(value / step) / std::round(1 / step) : value;
  }

  proto::Entry begin(Phone& phone, const std::string& member) {
    proto::Entry entry;
    entry.set_device(phone.name);
    entry.set_sequence(++phone.sequence);
    entry.mutable_clock()->set_wall_ms(now_ms_);
    entry.set_event_utc_ms(now_ms_ - below(2'000));
    entry.set_member(member);
    return entry;
  }

  void put_session(proto::Session& session) {
    session.set_id(fmt::format("s{}", random_() % 100'000));
    session.set_people(static_cast<int>(1 + random_() % 3));
    session.set_minutes(static_cast<double>(15 * (1 + random_() % 12)));
    static const char* const kStocks[] = {"red-oak", "walnut", "mdf", "poplar"};
    for (std::uint32_t i = 0; i < 2 + random_() % 3; ++i) {
      proto::Use& use = *session.add_uses();
      use.set_machine(fmt::format("machine-{}", random_() % 23));
      use.set_minutes(static_cast<double>(5 * (1 + random_() % 12)));
      use.set_stock(kStocks[random_() % 4]);
      use.set_extraction(random_() % 4 != 0);
    }
  }

  proto::DutyOwed duty() {
    const auto which = random_() % 47;
    const std::string zone = fmt::format("floor-by-machine-{}", which);
    proto::DutyOwed owed;
    owed.set_id(fmt::format("zone:{}", zone));
    owed.set_title(fmt::format("Vacuum the floor around machine {}", which));
    owed.set_kind(which % 5 == 0 ? "reset" : "zone");
    owed.set_minutes(figure(12, 0.1));
    owed.set_weight(figure(1, 0.001));
    owed.set_safety(which % 11 == 0);
    owed.set_zone(zone);
    owed.set_place(fmt::format("Machine room {}", which % 3));
    return owed;
  }

  void put_ending(proto::Entry& entry, const proto::DutyOwed& owed, const proto::Entry& session) {
    proto::DutyName name;
    name.set_id(owed.id());
    name.mutable_session()->set_device(session.device());
    name.mutable_session()->set_sequence(session.sequence());
    if (random_() % 8 == 0) {
      *entry.mutable_duty_passed_on()->mutable_duty() = name;
      entry.mutable_duty_passed_on()->set_reason("no time");
      return;
    }
    proto::DutyDone& done = *entry.mutable_duty_done();
    *done.mutable_duty() = name;
    done.set_minutes(static_cast<double>(30 + random_() % 700) / 60);  // of a watch with seconds
    done.set_people(static_cast<int>(1 + random_() % 2));
    done.set_kind(owed.kind());
    done.set_estimated_minutes(owed.minutes());
  }

  std::mt19937 random_;
  bool rounded_;
  std::vector<Phone> phones_;
  std::int64_t now_ms_ = 1'780'000'000'000;
};

}  // namespace chipfall
