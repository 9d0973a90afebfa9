#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "core/ledger/sqlite.h"

/// A shop's own authority: what phones install once, so that their browsers trust the hub.
///
/// Two certificates (RFC 5280). The *root* is what phones install; its key signs the issuing one
/// and is then forgotten: it is never written anywhere. The *issuing* certificate signs the hub's,
/// and its key stays in the hub's folder, to renew that. Both may vouch for the hub's own names and
/// addresses alone (nameConstraints, critical). Why two: RFC 5280 leaves it open whether
/// constraints in a root count, and some programs do pass over them; those of a certificate below
/// it bind. So whoever steals the issuing key can pose as this hub and as nothing else.
///
/// The hub's certificate carries the hub's key as before, which is how devices know the hub:
/// nothing changes for those that have joined.
namespace chipfall {

constexpr std::int64_t kAuthorityDays = 10 * 365;  ///< then every phone installs a new one [c.p.]
/// Public certificates were allowed 398 days from September 2020 on (CA/Browser Forum, ballot
/// SC31; 200 since March 2026); iPhones take 825 from an authority that was installed by hand
/// (support.apple.com/103769). Short enough for all, long enough for a hub that is off a winter.
constexpr std::int64_t kSignedDays = 397;
/// Renewed with so many days left: a phone that was long away still meets one that holds.
constexpr std::int64_t kRenewDays = 120;
constexpr std::size_t kMostAuthorityNames = 10;

class HubFolder;

struct HubAuthority {
  std::string title;               ///< how phones list it
  std::string certificate_der;     ///< what phones install
  std::string fingerprint;         ///< SHA-256 of that
  std::vector<std::string> names;  ///< names and addresses that it may vouch for
  std::int64_t until_utc_s = 0;
};

/// Names in lower case, addresses in their usual form, each once. A mistake where one is neither,
/// or would stand for more than a hub: `example` alone stands for all names that end in it.
OrError<std::vector<std::string>> authority_names(const std::vector<std::string>& asked);

/// Makes an authority for `names` (as authority_names gives them) in place of the one before, and
/// the hub's certificate signed by it. The hub's key must be there and stays.
OrError<HubAuthority> make_authority(const HubFolder& folder, const std::vector<std::string>& names,
                                     std::int64_t now_utc_s);

/// Nothing where the shop has none.
OrError<std::optional<HubAuthority>> read_authority(const HubFolder& folder);

/// Signs the hub's certificate anew where it runs out within kRenewDays, is not of the authority or
/// not of the hub's key. Whether it did; a hub without an authority has nothing to renew.
OrError<bool> renew_certificate(const HubFolder& folder, std::int64_t now_utc_s);

/// As YYYY-MM-DD.
std::string day_of(std::int64_t utc_s);
/// As phones show it: pairs of hexadecimal digits with blanks between.
std::string shown_fingerprint(const std::string& fingerprint);

}  // namespace chipfall
