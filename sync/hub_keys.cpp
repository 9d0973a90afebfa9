#include "sync/hub_keys.h"

#include "sync/certificates.h"
#include "sync/installation.h"
#include "sync/tls.h"

namespace chipfall {

namespace {

constexpr std::int64_t kDay_s = 24 * 60 * 60;

x509::Certificate certificate_for(EVP_PKEY* key) {
  x509::Certificate made(X509_new());
  const std::int64_t now_utc_s = moment_now().utc_ms / 1000;
  if (!made || !x509::begin(made.get(), now_utc_s - kDay_s,  // clocks differ
                            now_utc_s + kCertificateDays * kDay_s)) {
    return {};
  }
  X509_set_pubkey(made.get(), key);
  X509_NAME* name = X509_get_subject_name(made.get());
  const auto* title = reinterpret_cast<const unsigned char*>("chipfall-hub");
  X509_NAME_add_entry_by_txt(name, "CN", MBSTRING_ASC, title, -1, -1, 0);
  X509_set_issuer_name(made.get(), name);
  if (X509_sign(made.get(), key, EVP_sha256()) == 0) made.reset();
  return made;
}

}  // namespace

OrError<void> make_keys(const std::string& certificate_path, const std::string& key_path) {
  const auto key = x509::new_key(key_path);
  if (!key) return tl::unexpected(key.error());
  const x509::Certificate certificate = certificate_for(key->get());
  if (!certificate) {
    return tl::unexpected(Error{ErrorCode::kUnreadable,
                                "no certificate could be made: " + tls::complaint(),
                                {certificate_path, 0, 0, ""}});
  }
  const auto kept = x509::write_new_file(key_path, x509::pem_of(key->get()), 0600);
  if (!kept) return kept;
  return x509::write_new_file(certificate_path, x509::pem_of(certificate.get()), 0644);
}

}  // namespace chipfall
