#pragma once

#include <array>
#include <cstdint>
#include <optional>
#include <string>

#include "sync/hub_authority.h"
#include "sync/hub_folder.h"
#include "sync/hub_journal.h"
#include "sync/hub_settings.h"
#include "sync/tls.h"

/// The certificate that a hub shows: the one it was given, or its own.
///
/// Renewed where the shop's authority signs it, and taken up anew when its files change, for
/// connections from then on. Never one with another key: devices know the hub by that, and all of
/// them would stop. A hub that starts takes whatever key it is given.
namespace chipfall {

/// From then on the journal says each day that the certificate runs out.
constexpr std::int64_t kWarnDays = 21;

class HubCertificate {
 public:
  /// Makes keys where the hub has none and was given none. `folder` outlives this.
  static OrError<HubCertificate> open(const HubFolder& folder, const HubSettings& settings,
                                      std::int64_t now_utc_s, HubJournal& journal);

  /// Of connections that begin now.
  SSL_CTX* context() const { return context_.get(); }
  /// Of the key.
  const std::string& fingerprint() const { return fingerprint_; }
  /// Null where the shop has none, or another certificate was given.
  const HubAuthority* authority() const { return authority_ ? &*authority_ : nullptr; }

  /// Now and then: renews what runs out, takes up what was replaced. What fails is told to the
  /// journal, and the certificate of before stays.
  void look(std::int64_t now_utc_s, HubJournal& journal);

 private:
  /// By which a changed file is known.
  struct Stamp {
    std::int64_t changed_ns = 0, bytes = 0;
    std::uint64_t file = 0;
    bool operator==(const Stamp&) const = default;
  };
  using Stamps = std::array<Stamp, 3>;

  static Stamp stamp_of(const std::string& path);
  Stamps stamps() const;
  OrError<void> load();
  void renew(std::int64_t now_utc_s, HubJournal& journal);
  void take_up(HubJournal& journal);
  void warn_of_end(std::int64_t now_utc_s, HubJournal& journal);

  const HubFolder* folder_ = nullptr;
  std::string certificate_, key_;  // files
  bool own_ = false;
  tls::Context context_;
  std::string fingerprint_;
  std::int64_t until_utc_s_ = 0;
  std::optional<HubAuthority> authority_;
  Stamps seen_;
  std::int64_t next_renewal_utc_s_ = 0, next_warning_utc_s_ = 0;
};

}  // namespace chipfall
