#include "sync/hub_keys.h"

#include <fcntl.h>
#include <openssl/bio.h>
#include <openssl/ec.h>
#include <openssl/pem.h>
#include <openssl/x509.h>
#include <unistd.h>

#include <cerrno>
#include <cstring>
#include <memory>

#include "sync/installation.h"
#include "sync/tls.h"

namespace chipfall {

namespace {

using Key = std::unique_ptr<EVP_PKEY, void (*)(EVP_PKEY*)>;
using Certificate = std::unique_ptr<X509, void (*)(X509*)>;
using Memory = std::unique_ptr<BIO, int (*)(BIO*)>;

tl::unexpected<Error> key_error(const std::string& path, std::string message) {
  return tl::unexpected(Error{ErrorCode::kUnreadable, std::move(message), {path, 0, 0, ""}});
}

std::string text_of(BIO* memory) {
  char* data = nullptr;
  const long bytes = BIO_get_mem_data(memory, &data);
  return {data, static_cast<std::size_t>(bytes)};
}

OrError<void> write_new_file(const std::string& path, const std::string& text, mode_t mode) {
  const int file = ::open(path.c_str(), O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, mode);
  if (file < 0) return key_error(path, std::string("cannot be written: ") + std::strerror(errno));
  const bool whole = ::write(file, text.data(), text.size()) == static_cast<ssize_t>(text.size()) &&
                     ::fsync(file) == 0;
  ::close(file);
  if (whole) return {};
  ::unlink(path.c_str());
  return key_error(path, "could not be written whole: free some space and try again");
}

Certificate certificate_for(EVP_PKEY* key) {
  Certificate made(X509_new(), X509_free);
  if (!made) return made;
  const std::string serial = fresh_bytes(8);
  std::uint64_t number = 0;
  for (const char byte : serial) number = number << 8 | static_cast<unsigned char>(byte);
  ASN1_INTEGER_set_uint64(X509_get_serialNumber(made.get()), number >> 1 | 1);
  X509_set_version(made.get(), X509_VERSION_3);
  X509_gmtime_adj(X509_getm_notBefore(made.get()), -24L * 60 * 60);  // clocks differ
  X509_gmtime_adj(X509_getm_notAfter(made.get()), 60L * 60 * 24 * kCertificateDays);
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
  const Key key(EVP_EC_gen("P-256"), EVP_PKEY_free);
  if (!key) return key_error(key_path, "no key could be made: " + tls::complaint());
  const Certificate certificate = certificate_for(key.get());
  const Memory key_text(BIO_new(BIO_s_mem()), BIO_free);
  const Memory certificate_text(BIO_new(BIO_s_mem()), BIO_free);
  if (!certificate || !key_text || !certificate_text ||
      PEM_write_bio_PrivateKey(key_text.get(), key.get(), nullptr, nullptr, 0, nullptr, nullptr) !=
          1 ||
      PEM_write_bio_X509(certificate_text.get(), certificate.get()) != 1) {
    return key_error(certificate_path, "no certificate could be made: " + tls::complaint());
  }
  const auto kept = write_new_file(key_path, text_of(key_text.get()), 0600);
  if (!kept) return kept;
  return write_new_file(certificate_path, text_of(certificate_text.get()), 0644);
}

}  // namespace chipfall
