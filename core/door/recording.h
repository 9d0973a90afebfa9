#pragma once

#include "core/door/record.h"
#include "core/shop/check_session.h"
#include "core/shop/mistakes.h"

/// Within core/door: the parts of `to_record`, by what is recorded. Each puts its payload into the
/// entry and adds what is wrong with it to the mistakes.
namespace chipfall {

/// What the checks of one request share.
struct Recording {
  const proto::Record& asked;
  const OpenShop& open;
  Views& views;
  const Found& found;
  std::int64_t now_ms;
  Errors errors{};
  ToRecord out{};

  Spot at() { return Spot(errors); }
};

/// The ids of a list of the sheet, for checking references.
template <typename List>
Known known(std::string_view noun, const List& list) {
  Known out{noun, {}};
  for (const auto& entry : list) out.ids.push_back(entry.id);
  return out;
}

EntryRef ref_of(const proto::EntryName& name);
void put_ref(const EntryRef& ref, proto::EntryName& name);

inline void refuse(Recording& now, const Error& error) { now.errors.push_back(error); }

/// Text of at most so many bytes, without control signs.
void check_words(const Spot& at, const std::string& text, std::size_t longest);
/// The same, and some must be given; `what` asks for it.
void check_given(const Spot& at, const std::string& text, std::size_t longest,
                 std::string_view what);

// record_duties.cpp
void record_done(Recording& now);
void record_passed_on(Recording& now);
void record_not_needed(Recording& now);
void record_reopened(Recording& now);
void record_closed(Recording& now);

// record_sightings.cpp
void record_bin_seen(Recording& now);
void record_emptied(Recording& now);
void record_zone(Recording& now);
void record_out(Recording& now);
void record_back(Recording& now);
void record_low(Recording& now);
void record_restocked(Recording& now);
void record_note(Recording& now);

}  // namespace chipfall
