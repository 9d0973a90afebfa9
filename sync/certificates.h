#pragma once

#include <openssl/evp.h>
#include <openssl/x509.h>

#include <cstdint>
#include <memory>
#include <string>
#include <vector>

#include "core/ledger/sqlite.h"

/// Keys and certificates (X.509, RFC 5280) as files in PEM form.
namespace chipfall::x509 {

struct FreeKey {
  void operator()(EVP_PKEY* key) const { EVP_PKEY_free(key); }
};
struct FreeCertificate {
  void operator()(X509* certificate) const { X509_free(certificate); }
};
using Key = std::unique_ptr<EVP_PKEY, FreeKey>;
using Certificate = std::unique_ptr<X509, FreeCertificate>;

/// A new P-256 key; `path` is where it is to lie, for what may be said of it.
OrError<Key> new_key(const std::string& path);
OrError<Key> read_key(const std::string& path);
/// All certificates of a file, at least one.
OrError<std::vector<Certificate>> read_certificates(const std::string& path);

std::string pem_of(X509* certificate);
std::string pem_of(EVP_PKEY* key);
std::string der_of(X509* certificate);
/// Seconds since 1970.
std::int64_t utc_s_of(const ASN1_TIME* time);

/// What every certificate of a hub has: version, chance for its serial number, and its time.
/// False where memory ran out.
bool begin(X509* certificate, std::int64_t from_utc_s, std::int64_t until_utc_s);

/// For the file's owner alone where `mode` says so; the file may not exist.
OrError<void> write_new_file(const std::string& path, const std::string& text, unsigned mode);
/// The file is the new one or the old one, also after a power cut.
OrError<void> replace_file(const std::string& path, const std::string& text, unsigned mode);

}  // namespace chipfall::x509
