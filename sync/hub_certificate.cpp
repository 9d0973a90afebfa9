#include "sync/hub_certificate.h"

#include <sys/stat.h>

#include "sync/certificates.h"
#include "sync/installation.h"

namespace chipfall {

namespace {

constexpr std::int64_t kHour_s = 60 * 60;
constexpr std::int64_t kDay_s = 24 * kHour_s;

}  // namespace

OrError<HubCertificate> HubCertificate::open(const HubFolder& folder, const HubSettings& settings,
                                             std::int64_t now_utc_s, HubJournal& journal) {
  if (settings.certificate.empty() != settings.key.empty()) {
    return tl::unexpected(
        Error{ErrorCode::kMistake, "certificate and key go together: give both, or neither", {}});
  }
  HubCertificate made;
  made.folder_ = &folder;
  made.own_ = settings.certificate.empty();
  made.certificate_ = made.own_ ? folder.certificate() : settings.certificate;
  made.key_ = made.own_ ? folder.key() : settings.key;
  if (made.own_) {
    const auto keys = folder.ensure_keys();
    if (!keys) return tl::unexpected(keys.error());
    made.renew(now_utc_s, journal);
  }
  made.seen_ = made.stamps();
  const auto loaded = made.load();
  if (!loaded) return tl::unexpected(loaded.error());
  return made;
}

HubCertificate::Stamp HubCertificate::stamp_of(const std::string& path) {
  struct stat found {};
  if (::stat(path.c_str(), &found) != 0) return {};
  return {static_cast<std::int64_t>(found.st_mtim.tv_sec) * 1'000'000'000 + found.st_mtim.tv_nsec,
          static_cast<std::int64_t>(found.st_size), static_cast<std::uint64_t>(found.st_ino)};
}

HubCertificate::Stamps HubCertificate::stamps() const {
  return {stamp_of(certificate_), stamp_of(key_), stamp_of(folder_->authority())};
}

/// All of it, or nothing changes.
OrError<void> HubCertificate::load() {
  auto context = tls::hub_context(certificate_, key_);
  if (!context) return tl::unexpected(context.error());
  X509* leaf = SSL_CTX_get0_certificate(context->get());
  std::string fingerprint = tls::fingerprint_of(leaf);
  if (!fingerprint_.empty() && fingerprint != fingerprint_) {
    return tl::unexpected(Error{ErrorCode::kMistake,
                                "has another key than the hub has now, by which phones know it. "
                                "Renew it with the same key; or start the hub again, and let every "
                                "phone join anew",
                                {certificate_, 0, 0, ""}});
  }
  std::optional<HubAuthority> authority;
  if (own_) {
    auto read = read_authority(*folder_);
    if (!read) return tl::unexpected(read.error());
    authority = *std::move(read);
  }
  until_utc_s_ = x509::utc_s_of(X509_get0_notAfter(leaf));
  context_ = *std::move(context);
  fingerprint_ = std::move(fingerprint);
  authority_ = std::move(authority);
  next_warning_utc_s_ = 0;
  return {};
}

void HubCertificate::renew(std::int64_t now_utc_s, HubJournal& journal) {
  if (!own_ || now_utc_s < next_renewal_utc_s_) return;
  next_renewal_utc_s_ = now_utc_s + kHour_s;
  const auto renewed = renew_certificate(*folder_, now_utc_s);
  if (!renewed) {
    journal.warning("certificate_not_renewed", {{"why", renewed.error().text()}});
  } else if (*renewed) {
    journal.info("certificate_renewed");
  }
}

void HubCertificate::take_up(HubJournal& journal) {
  const Stamps now = stamps();
  if (now == seen_) return;
  seen_ = now;  // a file half written changes once more
  const auto loaded = load();
  if (loaded) {
    journal.info("certificate_taken_up");
  } else {
    journal.warning("certificate_not_taken_up", {{"why", loaded.error().text()}});
  }
}

void HubCertificate::warn_of_end(std::int64_t now_utc_s, HubJournal& journal) {
  const std::int64_t left_s = until_utc_s_ - now_utc_s;
  if (left_s > kWarnDays * kDay_s || now_utc_s < next_warning_utc_s_) return;
  next_warning_utc_s_ = now_utc_s + kDay_s;
  journal.warning("certificate_runs_out", {{"days", std::to_string(left_s / kDay_s)}});
}

void HubCertificate::look(std::int64_t now_utc_s, HubJournal& journal) {
  renew(now_utc_s, journal);
  take_up(journal);
  warn_of_end(now_utc_s, journal);
}

}  // namespace chipfall
