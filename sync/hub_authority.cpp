#include "sync/hub_authority.h"

#include <fmt/format.h>
#include <fmt/ranges.h>
#include <openssl/x509v3.h>

#include <algorithm>
#include <boost/asio/ip/address.hpp>
#include <ctime>
#include <filesystem>
#include <tuple>

#include "sync/certificates.h"
#include "sync/hub_folder.h"
#include "sync/secret.h"
#include "sync/tls.h"

namespace chipfall {

namespace fs = std::filesystem;
using x509::Certificate;

namespace {

constexpr std::int64_t kDay_s = 24 * 60 * 60;
constexpr std::size_t kMostNameBytes = 100;   // as an address in a join code
constexpr std::size_t kMostLabelBytes = 63;   // RFC 1035, 2.3.4
constexpr std::size_t kMostNameInTitle = 30;  // the title has at most 64 letters (RFC 5280, A.1)
constexpr const char* kNoName = "invalid";    // no name ends in it (RFC 2606)
constexpr const char* kAllOfIp4 = "0.0.0.0/0.0.0.0";
constexpr const char* kAllOfIp6 = "::/::";

tl::unexpected<Error> authority_error(ErrorCode code, const std::string& path,
                                      std::string message) {
  return tl::unexpected(Error{code, std::move(message), {path, 0, 0, ""}});
}

std::optional<boost::asio::ip::address> address_in(const std::string& name) {
  boost::system::error_code failure;
  const auto address = boost::asio::ip::make_address(name, failure);
  if (failure) return std::nullopt;
  return address;
}

bool is_host_name(const std::string& name) {
  std::size_t label = 0;
  char before = '.';
  for (const char letter : name) {
    const bool plain = (letter >= 'a' && letter <= 'z') || (letter >= '0' && letter <= '9');
    if (letter == '.' ? label == 0 || before == '-' : !plain && (letter != '-' || label == 0)) {
      return false;
    }
    label = letter == '.' ? 0 : label + 1;
    if (label > kMostLabelBytes) return false;
    before = letter;
  }
  return label > 0 && before != '-';
}

/// What the authority may vouch for. A kind of name of which none is permitted has to be ruled out
/// by itself: without that all of that kind would be allowed (RFC 5280, 4.2.1.10).
std::string constraints_for(const std::vector<std::string>& names) {
  std::vector<std::string> parts;
  bool host = false, ip4 = false, ip6 = false;
  for (const std::string& name : names) {
    const auto address = address_in(name);
    if (!address) {
      parts.push_back(fmt::format("permitted;DNS:{}", name));
      host = true;
    } else if (address->is_v4()) {
      parts.push_back(fmt::format("permitted;IP:{}/255.255.255.255", name));
      ip4 = true;
    } else {
      parts.push_back(fmt::format("permitted;IP:{}/ffff:ffff:ffff:ffff:ffff:ffff:ffff:ffff", name));
      ip6 = true;
    }
  }
  if (!host) parts.push_back(fmt::format("permitted;DNS:{}", kNoName));
  if (!ip4) parts.push_back(fmt::format("excluded;IP:{}", kAllOfIp4));
  if (!ip6) parts.push_back(fmt::format("excluded;IP:{}", kAllOfIp6));
  return fmt::format("critical,{}", fmt::join(parts, ","));
}

std::string alternative_names_for(const std::vector<std::string>& names) {
  std::vector<std::string> parts;
  for (const std::string& name : names) {
    parts.push_back(fmt::format("{}:{}", address_in(name) ? "IP" : "DNS", name));
  }
  return fmt::format("{}", fmt::join(parts, ","));
}

/// Text of an address constraint: the address and, as long again, its mask.
std::string address_of(const ASN1_OCTET_STRING& constraint) {
  const unsigned char* bytes = ASN1_STRING_get0_data(&constraint);
  const int length = ASN1_STRING_length(&constraint);
  if (length == 8) {
    boost::asio::ip::address_v4::bytes_type v4{};
    std::copy_n(bytes, v4.size(), v4.begin());
    return boost::asio::ip::address_v4(v4).to_string();
  }
  if (length != 32) return {};
  boost::asio::ip::address_v6::bytes_type v6{};
  std::copy_n(bytes, v6.size(), v6.begin());
  return boost::asio::ip::address_v6(v6).to_string();
}

std::vector<std::string> names_in(X509* certificate) {
  std::vector<std::string> names;
  const std::unique_ptr<NAME_CONSTRAINTS, void (*)(NAME_CONSTRAINTS*)> constraints(
      static_cast<NAME_CONSTRAINTS*>(
          X509_get_ext_d2i(certificate, NID_name_constraints, nullptr, nullptr)),
      NAME_CONSTRAINTS_free);
  if (!constraints || constraints->permittedSubtrees == nullptr) return names;
  for (int i = 0; i < sk_GENERAL_SUBTREE_num(constraints->permittedSubtrees); ++i) {
    const GENERAL_NAME* base = sk_GENERAL_SUBTREE_value(constraints->permittedSubtrees, i)->base;
    std::string name;
    if (base->type == GEN_DNS) {
      name.assign(reinterpret_cast<const char*>(ASN1_STRING_get0_data(base->d.dNSName)),
                  static_cast<std::size_t>(ASN1_STRING_length(base->d.dNSName)));
    } else if (base->type == GEN_IPADD) {
      name = address_of(*base->d.iPAddress);
    }
    if (!name.empty() && name != kNoName) names.push_back(std::move(name));
  }
  return names;
}

struct Extension {
  int id;
  std::string value;
};

/// Whose certificate it is, by whom, until when, and for what.
struct Wanted {
  std::string title;
  EVP_PKEY* subject_key;
  X509* issuer;  ///< null: itself
  EVP_PKEY* issuer_key;
  std::int64_t from_utc_s, until_utc_s;
  std::vector<Extension> extensions;
};

OrError<Certificate> signed_certificate(const Wanted& wanted, const std::string& path) {
  Certificate made(X509_new());
  const auto* title = reinterpret_cast<const unsigned char*>(wanted.title.c_str());
  bool good = made && x509::begin(made.get(), wanted.from_utc_s, wanted.until_utc_s) &&
              X509_set_pubkey(made.get(), wanted.subject_key) == 1 &&
              X509_NAME_add_entry_by_txt(X509_get_subject_name(made.get()), "CN", MBSTRING_UTF8,
                                         title, -1, -1, 0) == 1;
  X509* issuer = wanted.issuer == nullptr ? made.get() : wanted.issuer;
  good = good && X509_set_issuer_name(made.get(), X509_get_subject_name(issuer)) == 1;
  X509V3_CTX context{};
  if (good) X509V3_set_ctx(&context, issuer, made.get(), nullptr, nullptr, 0);
  for (const Extension& one : wanted.extensions) {
    if (!good) break;
    const std::unique_ptr<X509_EXTENSION, void (*)(X509_EXTENSION*)> extension(
        X509V3_EXT_nconf_nid(nullptr, &context, one.id, one.value.c_str()), X509_EXTENSION_free);
    good = extension && X509_add_ext(made.get(), extension.get(), -1) == 1;
  }
  if (good && X509_sign(made.get(), wanted.issuer_key, EVP_sha256()) > 0) return made;
  return authority_error(ErrorCode::kUnreadable, path,
                         "no certificate could be made: " + tls::complaint());
}

OrError<Certificate> certificate_for_hub(EVP_PKEY* key, X509* issuing, EVP_PKEY* issuing_key,
                                         std::int64_t now_utc_s, const std::string& path) {
  const std::int64_t ends = x509::utc_s_of(X509_get0_notAfter(issuing));
  if (now_utc_s < x509::utc_s_of(X509_get0_notBefore(issuing)) || now_utc_s >= ends) {
    return authority_error(ErrorCode::kMistake, path,
                           "the shop's authority does not hold today. Is this computer's clock "
                           "right? Else make a new one: `chipfall-hub authority --anew`");
  }
  const std::int64_t from = now_utc_s - kDay_s;  // clocks differ
  return signed_certificate({"chipfall-hub",
                             key,
                             issuing,
                             issuing_key,
                             from,
                             std::min(from + kSignedDays * kDay_s - 1, ends),
                             {{NID_basic_constraints, "critical,CA:FALSE"},
                              {NID_key_usage, "critical,digitalSignature"},
                              {NID_ext_key_usage, "serverAuth"},
                              {NID_subject_alt_name, alternative_names_for(names_in(issuing))},
                              {NID_subject_key_identifier, "hash"},
                              {NID_authority_key_identifier, "keyid:always"}}},
                            path);
}

bool is_due(X509* certificate, EVP_PKEY* key, X509* issuing, std::int64_t now_utc_s) {
  const std::int64_t left = x509::utc_s_of(X509_get0_notAfter(certificate)) - now_utc_s;
  // At the authority's own end there is nothing to be gained.
  const bool as_long_as_may_be =
      ASN1_TIME_compare(X509_get0_notAfter(certificate), X509_get0_notAfter(issuing)) == 0;
  return (left < kRenewDays * kDay_s && !as_long_as_may_be) ||
         x509::utc_s_of(X509_get0_notBefore(certificate)) > now_utc_s ||
         X509_check_issued(issuing, certificate) != X509_V_OK ||
         X509_verify(certificate, X509_get0_pubkey(issuing)) != 1 ||
         EVP_PKEY_eq(X509_get0_pubkey(certificate), key) != 1;
}

HubAuthority told(X509* root) {
  HubAuthority authority;
  authority.certificate_der = x509::der_of(root);
  authority.fingerprint = sha256(authority.certificate_der);
  authority.names = names_in(root);
  authority.until_utc_s = x509::utc_s_of(X509_get0_notAfter(root));
  const X509_NAME* name = X509_get_subject_name(root);
  const int at = X509_NAME_get_index_by_NID(name, NID_commonName, -1);
  if (at >= 0) {
    const ASN1_STRING* title = X509_NAME_ENTRY_get_data(X509_NAME_get_entry(name, at));
    authority.title.assign(reinterpret_cast<const char*>(ASN1_STRING_get0_data(title)),
                           static_cast<std::size_t>(ASN1_STRING_length(title)));
  }
  return authority;
}

}  // namespace

OrError<std::vector<std::string>> authority_names(const std::vector<std::string>& asked) {
  std::vector<std::string> names;
  for (std::string name : asked) {
    std::transform(name.begin(), name.end(), name.begin(), [](char letter) {
      return letter >= 'A' && letter <= 'Z' ? static_cast<char>(letter - 'A' + 'a') : letter;
    });
    if (const auto address = address_in(name)) {
      name = address->to_string();
    } else if (name.size() > kMostNameBytes || !is_host_name(name)) {
      return authority_error(ErrorCode::kMistake, name,
                             "is neither a host name such as hub.shop.example nor an address such "
                             "as 192.168.1.20");
    } else if (name.find('.') == std::string::npos && name != "localhost") {
      return authority_error(ErrorCode::kMistake, name,
                             "stands for every name that ends in it, so no authority may have it: "
                             "give the hub a name with a dot, such as hub.home.arpa, or its "
                             "address");
    }
    if (std::find(names.begin(), names.end(), name) == names.end()) names.push_back(name);
  }
  if (!names.empty() && names.size() <= kMostAuthorityNames) return names;
  return authority_error(ErrorCode::kOutOfBounds, "",
                         fmt::format("an authority is for 1 to {} names, not for {}",
                                     kMostAuthorityNames, names.size()));
}

OrError<HubAuthority> make_authority(const HubFolder& folder, const std::vector<std::string>& names,
                                     std::int64_t now_utc_s) {
  const auto key = x509::read_key(folder.key());
  if (!key) return tl::unexpected(key.error());
  const auto root_key = x509::new_key(folder.authority());
  if (!root_key) return tl::unexpected(root_key.error());
  const auto issuing_key = x509::new_key(folder.issuing_key());
  if (!issuing_key) return tl::unexpected(issuing_key.error());
  const std::string title = fmt::format(
      "Chipfall hub {}, {}", names.front().substr(0, kMostNameInTitle), day_of(now_utc_s));
  const std::int64_t from = now_utc_s - kDay_s, until = from + kAuthorityDays * kDay_s;
  const std::string constraints = constraints_for(names);

  const auto root = signed_certificate({title,
                                        root_key->get(),
                                        nullptr,
                                        root_key->get(),
                                        from,
                                        until,
                                        {{NID_basic_constraints, "critical,CA:TRUE,pathlen:1"},
                                         {NID_key_usage, "critical,keyCertSign"},
                                         {NID_name_constraints, constraints},
                                         {NID_subject_key_identifier, "hash"}}},
                                       folder.authority());
  if (!root) return tl::unexpected(root.error());
  const auto issuing = signed_certificate({fmt::format("{}, issuing", title),
                                           issuing_key->get(),
                                           root->get(),
                                           root_key->get(),
                                           from,
                                           until,
                                           {{NID_basic_constraints, "critical,CA:TRUE,pathlen:0"},
                                            {NID_key_usage, "critical,keyCertSign"},
                                            {NID_ext_key_usage, "serverAuth"},
                                            {NID_name_constraints, constraints},
                                            {NID_subject_key_identifier, "hash"},
                                            {NID_authority_key_identifier, "keyid:always"}}},
                                          folder.issuing());
  if (!issuing) return tl::unexpected(issuing.error());
  const auto certificate = certificate_for_hub(key->get(), issuing->get(), issuing_key->get(),
                                               now_utc_s, folder.certificate());
  if (!certificate) return tl::unexpected(certificate.error());

  // The root last: while it is not there, there is no authority that a phone could install.
  std::error_code ignored;
  fs::remove(folder.authority(), ignored);
  const std::string issuing_pem = x509::pem_of(issuing->get());
  for (const auto& [path, text, mode] :
       {std::tuple(folder.issuing_key(), x509::pem_of(issuing_key->get()), 0600U),
        std::tuple(folder.issuing(), issuing_pem, 0644U),
        std::tuple(folder.certificate(), x509::pem_of(certificate->get()) + issuing_pem, 0644U),
        std::tuple(folder.authority(), x509::pem_of(root->get()), 0644U)}) {
    const auto written = x509::replace_file(path, text, mode);
    if (!written) return tl::unexpected(written.error());
  }
  return told(root->get());
}

OrError<std::optional<HubAuthority>> read_authority(const HubFolder& folder) {
  std::error_code ignored;
  if (!fs::exists(folder.authority(), ignored)) return std::nullopt;
  const auto root = x509::read_certificates(folder.authority());
  if (!root) return tl::unexpected(root.error());
  return told(root->front().get());
}

OrError<bool> renew_certificate(const HubFolder& folder, std::int64_t now_utc_s) {
  std::error_code ignored;
  if (!fs::exists(folder.authority(), ignored)) return false;
  const auto issuing = x509::read_certificates(folder.issuing());
  if (!issuing) return tl::unexpected(issuing.error());
  const auto key = x509::read_key(folder.key());
  if (!key) return tl::unexpected(key.error());
  const auto certificate = x509::read_certificates(folder.certificate());
  if (!certificate) return tl::unexpected(certificate.error());
  X509* issuer = issuing->front().get();
  if (!is_due(certificate->front().get(), key->get(), issuer, now_utc_s)) return false;
  const auto issuing_key = x509::read_key(folder.issuing_key());
  if (!issuing_key) return tl::unexpected(issuing_key.error());
  const auto fresh =
      certificate_for_hub(key->get(), issuer, issuing_key->get(), now_utc_s, folder.certificate());
  if (!fresh) return tl::unexpected(fresh.error());
  const auto written = x509::replace_file(folder.certificate(),
                                          x509::pem_of(fresh->get()) + x509::pem_of(issuer), 0644);
  if (!written) return tl::unexpected(written.error());
  return true;
}

std::string day_of(std::int64_t utc_s) {
  const auto time = static_cast<std::time_t>(utc_s);
  std::tm parts{};
  ::gmtime_r(&time, &parts);
  return fmt::format("{:04}-{:02}-{:02}", parts.tm_year + 1900, parts.tm_mon + 1, parts.tm_mday);
}

std::string shown_fingerprint(const std::string& fingerprint) {
  std::string shown;
  for (const char byte : fingerprint) {
    if (!shown.empty()) shown += ' ';
    shown += fmt::format("{:02X}", static_cast<unsigned char>(byte));
  }
  return shown;
}

}  // namespace chipfall
