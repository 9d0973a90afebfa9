#include "sync/certificates.h"

#include <fcntl.h>
#include <openssl/asn1.h>
#include <openssl/bio.h>
#include <openssl/bn.h>
#include <openssl/ec.h>
#include <openssl/err.h>
#include <openssl/pem.h>
#include <unistd.h>

#include <cerrno>
#include <cstdio>
#include <cstring>
#include <ctime>

#include "sync/installation.h"
#include "sync/tls.h"

namespace chipfall::x509 {

namespace {

using Memory = std::unique_ptr<BIO, int (*)(BIO*)>;
using OpenFile = std::unique_ptr<std::FILE, int (*)(std::FILE*)>;

constexpr std::size_t kSerialBytes = 16;  // at most 20 octets (RFC 5280, 4.1.2.2)

tl::unexpected<Error> file_error(const std::string& path, std::string message) {
  return tl::unexpected(Error{ErrorCode::kUnreadable, std::move(message), {path, 0, 0, ""}});
}

std::string text_of(BIO* memory) {
  char* data = nullptr;
  const long bytes = BIO_get_mem_data(memory, &data);
  return {data, static_cast<std::size_t>(bytes)};
}

OrError<OpenFile> opened(const std::string& path) {
  OpenFile file(std::fopen(path.c_str(), "r"), std::fclose);
  if (!file) return file_error(path, std::string("cannot be read: ") + std::strerror(errno));
  return file;
}

}  // namespace

OrError<Key> new_key(const std::string& path) {
  Key key(EVP_EC_gen("P-256"));
  if (!key) return file_error(path, "no key could be made: " + tls::complaint());
  return key;
}

OrError<Key> read_key(const std::string& path) {
  const auto file = opened(path);
  if (!file) return tl::unexpected(file.error());
  Key key(PEM_read_PrivateKey(file->get(), nullptr, nullptr, nullptr));
  if (!key) return file_error(path, "this is no key in PEM form: " + tls::complaint());
  return key;
}

OrError<std::vector<Certificate>> read_certificates(const std::string& path) {
  const auto file = opened(path);
  if (!file) return tl::unexpected(file.error());
  std::vector<Certificate> all;
  while (X509* one = PEM_read_X509(file->get(), nullptr, nullptr, nullptr)) all.emplace_back(one);
  if (all.empty()) {
    return file_error(path, "this is no certificate in PEM form: " + tls::complaint());
  }
  ERR_clear_error();  // the file's end
  return all;
}

std::string pem_of(X509* certificate) {
  const Memory text(BIO_new(BIO_s_mem()), BIO_free);
  if (!text || PEM_write_bio_X509(text.get(), certificate) != 1) return {};
  return text_of(text.get());
}

std::string pem_of(EVP_PKEY* key) {
  const Memory text(BIO_new(BIO_s_mem()), BIO_free);
  if (!text ||
      PEM_write_bio_PrivateKey(text.get(), key, nullptr, nullptr, 0, nullptr, nullptr) != 1) {
    return {};
  }
  return text_of(text.get());
}

std::string der_of(X509* certificate) {
  unsigned char* encoded = nullptr;
  const int bytes = i2d_X509(certificate, &encoded);
  if (bytes <= 0) return {};
  std::string der(reinterpret_cast<const char*>(encoded), static_cast<std::size_t>(bytes));
  OPENSSL_free(encoded);
  return der;
}

std::int64_t utc_s_of(const ASN1_TIME* time) {
  std::tm parts{};
  if (ASN1_TIME_to_tm(time, &parts) != 1) return 0;
  return static_cast<std::int64_t>(::timegm(&parts));
}

bool begin(X509* certificate, std::int64_t from_utc_s, std::int64_t until_utc_s) {
  std::string serial = fresh_bytes(kSerialBytes);
  serial[0] = static_cast<char>((serial[0] & 0x3f) | 0x40);  // positive, and always as long
  const std::unique_ptr<BIGNUM, void (*)(BIGNUM*)> number(
      BN_bin2bn(reinterpret_cast<const unsigned char*>(serial.data()),
                static_cast<int>(serial.size()), nullptr),
      BN_free);
  return number && BN_to_ASN1_INTEGER(number.get(), X509_get_serialNumber(certificate)) &&
         X509_set_version(certificate, X509_VERSION_3) == 1 &&
         ASN1_TIME_set(X509_getm_notBefore(certificate), static_cast<std::time_t>(from_utc_s)) &&
         ASN1_TIME_set(X509_getm_notAfter(certificate), static_cast<std::time_t>(until_utc_s));
}

OrError<void> write_new_file(const std::string& path, const std::string& text, unsigned mode) {
  const int file =
      ::open(path.c_str(), O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, static_cast<mode_t>(mode));
  if (file < 0) return file_error(path, std::string("cannot be written: ") + std::strerror(errno));
  const bool whole = ::write(file, text.data(), text.size()) == static_cast<ssize_t>(text.size()) &&
                     ::fsync(file) == 0;
  ::close(file);
  if (whole) return {};
  ::unlink(path.c_str());
  return file_error(path, "could not be written whole: free some space and try again");
}

OrError<void> replace_file(const std::string& path, const std::string& text, unsigned mode) {
  const std::string fresh = path + ".new";
  ::unlink(fresh.c_str());  // of an attempt that was cut short
  const auto written = write_new_file(fresh, text, mode);
  if (!written) return written;
  if (::rename(fresh.c_str(), path.c_str()) == 0) return {};
  const int why = errno;
  ::unlink(fresh.c_str());
  return file_error(path, std::string("cannot be put in place: ") + std::strerror(why));
}

}  // namespace chipfall::x509
