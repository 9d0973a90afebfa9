#include <openssl/pem.h>
#include <openssl/x509v3.h>
#include <sys/stat.h>

#include <atomic>

#include "sync/certificates.h"
#include "sync/hub_authority.h"
#include "sync/hub_copies.h"
#include "sync/hub_export.h"
#include "tests/hub/hub_process.h"
#include "tests/hub/plain_tls.h"

namespace chipfall {
namespace {

constexpr std::int64_t kDay_s = 24 * 60 * 60;
const std::int64_t kNow_s = kTestNow_ms / 1000;

HubFolder with_keys(const LedgerFolder& folder, const std::string& name = "hub") {
  HubFolder made = sure(HubFolder::open(folder.file(name), true));
  sure(made.ensure_keys());
  return made;
}

/// What a program says that trusts `root` alone and is shown `chain`; X509_V_OK: that it holds.
int verdict(X509* root, const std::vector<x509::Certificate>& chain, const std::string& name,
            std::int64_t at_utc_s, bool is_address = false) {
  const std::unique_ptr<X509_STORE, void (*)(X509_STORE*)> store(X509_STORE_new(), X509_STORE_free);
  X509_STORE_add_cert(store.get(), root);
  STACK_OF(X509)* others = sk_X509_new_null();
  for (std::size_t i = 1; i < chain.size(); ++i) sk_X509_push(others, chain[i].get());
  const std::unique_ptr<X509_STORE_CTX, void (*)(X509_STORE_CTX*)> context(X509_STORE_CTX_new(),
                                                                           X509_STORE_CTX_free);
  X509_STORE_CTX_init(context.get(), store.get(), chain.front().get(), others);
  X509_VERIFY_PARAM* wanted = X509_STORE_CTX_get0_param(context.get());
  X509_VERIFY_PARAM_set_purpose(wanted, X509_PURPOSE_SSL_SERVER);
  X509_VERIFY_PARAM_set_flags(wanted, X509_V_FLAG_X509_STRICT);
  X509_VERIFY_PARAM_set_time(wanted, static_cast<std::time_t>(at_utc_s));
  if (is_address) {
    X509_VERIFY_PARAM_set1_ip_asc(wanted, name.c_str());
  } else {
    X509_VERIFY_PARAM_set1_host(wanted, name.c_str(), 0);
  }
  X509_verify_cert(context.get());
  sk_X509_free(others);
  return X509_STORE_CTX_get_error(context.get());
}

x509::Certificate root_of(const HubAuthority& authority) {
  const auto* bytes = reinterpret_cast<const unsigned char*>(authority.certificate_der.data());
  return x509::Certificate(
      d2i_X509(nullptr, &bytes, static_cast<long>(authority.certificate_der.size())));
}

/// What a thief would make of the issuing key: a certificate for any name, well signed.
std::vector<x509::Certificate> forged(const HubFolder& folder, const std::string& alternative) {
  auto chain = sure(x509::read_certificates(folder.issuing()));
  const auto issuing_key = sure(x509::read_key(folder.issuing_key()));
  const auto key = sure(x509::new_key(""));
  x509::Certificate made(X509_new());
  REQUIRE(x509::begin(made.get(), kNow_s - kDay_s, kNow_s + 30 * kDay_s));
  X509_set_pubkey(made.get(), key.get());
  X509_NAME_add_entry_by_txt(X509_get_subject_name(made.get()), "O", MBSTRING_ASC,
                             reinterpret_cast<const unsigned char*>("x"), -1, -1, 0);
  X509_set_issuer_name(made.get(), X509_get_subject_name(chain.front().get()));
  X509V3_CTX context{};
  X509V3_set_ctx(&context, chain.front().get(), made.get(), nullptr, nullptr, 0);
  for (const auto& [id, value] : {std::pair(NID_subject_alt_name, alternative),
                                  std::pair(NID_ext_key_usage, std::string("serverAuth")),
                                  std::pair(NID_subject_key_identifier, std::string("hash")),
                                  std::pair(NID_authority_key_identifier, std::string("keyid"))}) {
    X509_EXTENSION* extension = X509V3_EXT_nconf_nid(nullptr, &context, id, value.c_str());
    REQUIRE(extension != nullptr);
    X509_add_ext(made.get(), extension, -1);
    X509_EXTENSION_free(extension);
  }
  X509_sign(made.get(), issuing_key.get(), EVP_sha256());
  chain.insert(chain.begin(), std::move(made));
  return chain;
}

bool is_critical(X509* certificate, int id) {
  const int at = X509_get_ext_by_NID(certificate, id, -1);
  return at >= 0 && X509_EXTENSION_get_critical(X509_get_ext(certificate, at)) == 1;
}

std::int64_t days_of(X509* certificate) {
  return (x509::utc_s_of(X509_get0_notAfter(certificate)) + 1 -
          x509::utc_s_of(X509_get0_notBefore(certificate))) /
         kDay_s;
}

unsigned mode_of(const std::string& path) {
  struct stat found {};
  REQUIRE(::stat(path.c_str(), &found) == 0);
  return found.st_mode & 0777U;
}

TEST_CASE("who trusts the shop's authority trusts its hub, by its names and for a year") {
  const LedgerFolder folder;
  const HubFolder hub = with_keys(folder);
  const std::string key_before = contents(hub.key());
  const std::string known_by = sure(tls::fingerprint_of_file(hub.certificate()));
  const auto made = sure(make_authority(
      hub, sure(authority_names({"Hub.Shop.example", "192.168.1.20", "fd00::14"})), kNow_s));
  const auto root = root_of(made);
  const auto chain = sure(x509::read_certificates(hub.certificate()));
  REQUIRE(chain.size() == 2);
  CHECK(verdict(root.get(), chain, "hub.shop.example", kNow_s) == X509_V_OK);
  CHECK(verdict(root.get(), chain, "192.168.1.20", kNow_s, true) == X509_V_OK);
  CHECK(verdict(root.get(), chain, "fd00::14", kNow_s, true) == X509_V_OK);
  CHECK(verdict(root.get(), chain, "shop.example", kNow_s) == X509_V_ERR_HOSTNAME_MISMATCH);
  CHECK(verdict(root.get(), chain, "192.168.1.21", kNow_s, true) == X509_V_ERR_IP_ADDRESS_MISMATCH);
  CHECK(days_of(chain[0].get()) <= 398);
  CHECK(verdict(root.get(), chain, "hub.shop.example", kNow_s + 390 * kDay_s) == X509_V_OK);
  CHECK(verdict(root.get(), chain, "hub.shop.example", kNow_s + 400 * kDay_s) ==
        X509_V_ERR_CERT_HAS_EXPIRED);
  // Devices know the hub by its key, and that has stayed.
  CHECK(contents(hub.key()) == key_before);
  CHECK(sure(tls::fingerprint_of_file(hub.certificate())) == known_by);
  CHECK(made.names == std::vector<std::string>{"hub.shop.example", "192.168.1.20", "fd00::14"});
  CHECK(sure(read_authority(hub))->fingerprint == made.fingerprint);
}

TEST_CASE("both certificates of an authority say critically what it may sign and for whom") {
  const LedgerFolder folder;
  const HubFolder hub = with_keys(folder);
  const auto root = root_of(sure(make_authority(hub, {"hub.shop.example"}, kNow_s)));
  const auto issuing = sure(x509::read_certificates(hub.issuing()));
  for (X509* one : {root.get(), issuing.front().get()}) {
    CHECK(is_critical(one, NID_basic_constraints));
    CHECK(is_critical(one, NID_key_usage));
    CHECK(is_critical(one, NID_name_constraints));
    CHECK(X509_get_key_usage(one) == X509v3_KU_KEY_CERT_SIGN);
    CHECK(EVP_PKEY_get_bits(X509_get0_pubkey(one)) == 256);
  }
  CHECK(X509_get_pathlen(root.get()) == 1);
  CHECK(X509_get_pathlen(issuing.front().get()) == 0);
}

TEST_CASE("whoever steals an authority's key cannot vouch for another name or address") {
  const LedgerFolder folder;
  const HubFolder hub = with_keys(folder);
  auto root = root_of(sure(make_authority(hub, {"hub.shop.example", "192.168.1.20"}, kNow_s)));
  const auto says = [&](const std::string& alternative, const std::string& name,
                        bool is_address = false) {
    return verdict(root.get(), forged(hub, alternative), name, kNow_s, is_address);
  };
  // The forging itself is sound: for the hub's own name it would be believed.
  CHECK(says("DNS:hub.shop.example", "hub.shop.example") == X509_V_OK);
  CHECK(says("DNS:bank.example", "bank.example") == X509_V_ERR_PERMITTED_VIOLATION);
  CHECK(says("DNS:shop.example", "shop.example") == X509_V_ERR_PERMITTED_VIOLATION);
  CHECK(says("DNS:hub.shop.example,DNS:bank.example", "bank.example") ==
        X509_V_ERR_PERMITTED_VIOLATION);
  CHECK(says("IP:192.168.1.21", "192.168.1.21", true) == X509_V_ERR_PERMITTED_VIOLATION);
  CHECK(says("IP:fd00::14", "fd00::14", true) != X509_V_OK);

  // Of a kind that it has no name of, it may vouch for none at all.
  root = root_of(sure(make_authority(hub, {"hub.shop.example"}, kNow_s)));
  CHECK(says("IP:192.168.1.20", "192.168.1.20", true) == X509_V_ERR_EXCLUDED_VIOLATION);
  root = root_of(sure(make_authority(hub, {"192.168.1.20"}, kNow_s)));
  CHECK(says("IP:192.168.1.20", "192.168.1.20", true) == X509_V_OK);
  CHECK(says("DNS:bank.example", "bank.example") == X509_V_ERR_PERMITTED_VIOLATION);
}

TEST_CASE("names that would stand for more than a hub, or are none, are refused with a reason") {
  for (const char* name :
       {"example", "hub..example", "-hub.example", "hub-.example", "hub.example.", "*.example",
        "hub example.org", "hub.example,DNS:bank.example", "h\xc3\xbc.example", "", "1.2.3.4/8"}) {
    const auto names = authority_names({name});
    CHECK_MESSAGE(!names, name);
    if (!names) CHECK(names.error().message.size() > 20);
  }
  CHECK_FALSE(authority_names({}));
  CHECK_FALSE(authority_names(std::vector<std::string>(1, std::string(64, 'a') + ".example")));
  CHECK(sure(authority_names({"Hub.Example", "hub.example", "FD00:0::14", "localhost"})) ==
        std::vector<std::string>{"hub.example", "fd00::14", "localhost"});
}

TEST_CASE("an authority made while the hub serves is shown by it, and who has joined stays") {
  const LedgerFolder folder;
  RunningHub hub(folder.file("hub"), [] {
    HubServerOptions options;
    options.tick_ms = 50;
    return options;
  }());
  Phone phone(folder.file("phone"));
  REQUIRE(phone.join(code_for(hub.folder(), hub.port())) == LinkEnd::kUpToDate);
  const HubAddress address = address_of(hub.folder(), hub.port());
  CHECK(has(PlainTls(hub.port()).get("/authority"), "404 Not Found"));

  const auto made = sure(make_authority(hub.folder(), {"127.0.0.1"}, moment_now().utc_ms / 1000));
  CHECK(soon([&] { return has(hub.lines(), "event=certificate_taken_up"); }));
  phone.write(3);
  CHECK(phone.sync(address) == LinkEnd::kUpToDate);

  const std::string file = PlainTls(hub.port()).get("/authority.crt");
  CHECK(has(file, "Content-Type: application/x-x509-ca-cert\r\n"));
  CHECK(has(file, made.certificate_der));
  const std::string page = PlainTls(hub.port()).get("/authority");
  CHECK(has(page, "Content-Type: text/html; charset=utf-8\r\n"));
  CHECK(has(page, "default-src 'none'"));
  CHECK_FALSE(has(page, "unsafe-inline"));
  CHECK(has(page, shown_fingerprint(made.fingerprint)));
  CHECK(has(page, made.title));
  CHECK(has(PlainTls(hub.port()).get("/authority", "Accept-Language: es-MX,es;q=0.9\r\n"),
            "<html lang=\"es\">"));
}

/// Which certificate a hub shows to who connects now.
std::string shown_by(std::uint16_t port) {
  const std::unique_ptr<SSL_CTX, void (*)(SSL_CTX*)> context(SSL_CTX_new(TLS_client_method()),
                                                             SSL_CTX_free);
  const std::unique_ptr<BIO, void (*)(BIO*)> bio(BIO_new_ssl_connect(context.get()), BIO_free_all);
  BIO_set_conn_hostname(bio.get(), ("127.0.0.1:" + std::to_string(port)).c_str());
  if (BIO_do_connect(bio.get()) != 1) return {};
  SSL* ssl = nullptr;
  BIO_get_ssl(bio.get(), &ssl);
  return x509::der_of(SSL_get0_peer_certificate(ssl));
}

/// A hub whose days a test counts.
struct Calendar {
  std::shared_ptr<std::atomic<std::int64_t>> later_s =
      std::make_shared<std::atomic<std::int64_t>>(0);
  HubServerOptions options() const {
    HubServerOptions made;
    made.tick_ms = 50;
    made.now = [later = later_s] {
      Moment now = moment_now();
      now.utc_ms += *later * 1000;
      return now;
    };
    return made;
  }
  std::int64_t now_s() const { return moment_now().utc_ms / 1000 + *later_s; }
};

TEST_CASE("a hub renews its certificate by itself before it runs out, with the key of before") {
  const LedgerFolder folder;
  const HubFolder before = with_keys(folder);
  const Calendar calendar;
  const auto root = root_of(sure(make_authority(before, {"127.0.0.1"}, calendar.now_s())));
  RunningHub hub(folder.file("hub"), calendar.options());
  Phone phone(folder.file("phone"));
  REQUIRE(phone.join(code_for(hub.folder(), hub.port())) == LinkEnd::kUpToDate);
  const HubAddress address = address_of(hub.folder(), hub.port());
  const std::string first = shown_by(hub.port());

  *calendar.later_s = 200 * kDay_s;
  ::usleep(300'000);
  CHECK(shown_by(hub.port()) == first);  // not more often than needed
  *calendar.later_s = 300 * kDay_s;
  CHECK(soon([&] { return has(hub.lines(), "event=certificate_taken_up"); }));
  CHECK(has(hub.lines(), "event=certificate_renewed"));
  CHECK(shown_by(hub.port()) != first);
  const auto chain = sure(x509::read_certificates(hub.folder().certificate()));
  CHECK(x509::der_of(chain.front().get()) == shown_by(hub.port()));
  CHECK(verdict(root.get(), chain, "127.0.0.1", calendar.now_s() + 390 * kDay_s, true) ==
        X509_V_OK);
  phone.write(2);
  CHECK(phone.sync(address) == LinkEnd::kUpToDate);
}

TEST_CASE("a certificate that was signed by a clock ahead of time is renewed when it is right") {
  const LedgerFolder folder;
  const HubFolder hub = with_keys(folder);
  sure(make_authority(hub, {"127.0.0.1"}, kNow_s));
  CHECK_FALSE(sure(renew_certificate(hub, kNow_s)));
  CHECK(sure(renew_certificate(hub, kNow_s + 3'000 * kDay_s)));
  CHECK(sure(renew_certificate(hub, kNow_s)));
  CHECK_FALSE(sure(renew_certificate(hub, kNow_s)));
  // A clock outside of the authority's own time is told, and changes nothing.
  const std::string kept = contents(hub.certificate());
  CHECK_FALSE(renew_certificate(hub, kNow_s + 4'000 * kDay_s));
  CHECK(contents(hub.certificate()) == kept);
  // At the authority's end no certificate goes beyond it, and none is made for nothing.
  const std::int64_t near_end = kNow_s + (kAuthorityDays - 50) * kDay_s;
  CHECK(sure(renew_certificate(hub, near_end)));
  CHECK_FALSE(sure(renew_certificate(hub, near_end)));
}

TEST_CASE("a hub that cannot renew says so, serves on, and says each day when the end is near") {
  const LedgerFolder folder;
  const HubFolder before = with_keys(folder);
  const Calendar calendar;
  sure(make_authority(before, {"127.0.0.1"}, calendar.now_s()));
  std::filesystem::remove(before.issuing_key());
  RunningHub hub(folder.file("hub"), calendar.options());
  *calendar.later_s = 385 * kDay_s;
  CHECK(soon([&] { return has(hub.lines(), "event=certificate_runs_out days=1"); }));
  CHECK(has(hub.lines(), "event=certificate_not_renewed"));
  CHECK(has(PlainTls(hub.port()).get("/healthz"), "200 OK"));
}

/// Files as somebody else's tool would put them: a certificate signed by the key itself.
void put_given(const HubFolder& from, const LedgerFolder& folder) {
  const auto copy = std::filesystem::copy_options::overwrite_existing;
  std::filesystem::copy_file(from.key(), folder.file("given.key"), copy);
  std::filesystem::copy_file(from.certificate(), folder.file("given.crt"), copy);
}

TEST_CASE("a given certificate that is renewed with its key is taken up, one of another key not") {
  const LedgerFolder folder;
  const HubFolder given = with_keys(folder, "given");
  put_given(given, folder);
  Calendar calendar;
  HubServerOptions options = calendar.options();
  options.settings.certificate = folder.file("given.crt");
  options.settings.key = folder.file("given.key");
  RunningHub hub(folder.file("hub"), options);
  const std::string first = shown_by(hub.port());
  CHECK(first == x509::der_of(sure(x509::read_certificates(given.certificate())).front().get()));

  // The same key, another certificate: as a renewal that keeps the key.
  sure(make_authority(given, {"hub.shop.example"}, calendar.now_s()));
  put_given(given, folder);
  CHECK(soon([&] { return shown_by(hub.port()) != first; }));
  CHECK(has(hub.lines(), "event=certificate_taken_up"));
  const std::string second = shown_by(hub.port());
  CHECK(has(PlainTls(hub.port()).get("/authority"), "404 Not Found"));

  put_given(with_keys(folder, "other"), folder);
  CHECK(soon([&] { return has(hub.lines(), "has another key than the hub has now"); }));
  CHECK(shown_by(hub.port()) == second);
}

TEST_CASE("an authority's private key is its owner's alone, in backups said aloud, in no export") {
  const LedgerFolder folder;
  const HubFolder hub = with_keys(folder);
  sure(hub.add_shop("Otter Bend", {}));
  sure(make_authority(hub, {"hub.shop.example"}, kNow_s));
  CHECK(mode_of(hub.issuing_key()) == 0600);
  CHECK(mode_of(hub.path()) == 0700);
  // The root's key is nowhere: all keys that there are belong to other certificates.
  const auto root = sure(x509::read_certificates(hub.authority()));
  for (const std::string& path : {hub.key(), hub.issuing_key()}) {
    CHECK(EVP_PKEY_eq(sure(x509::read_key(path)).get(), X509_get0_pubkey(root.front().get())) != 1);
  }
  const auto said = run_hub({"backup", "--data", hub.path(), "--to", folder.file("copy")}, folder);
  CHECK(said.exit == 0);
  CHECK(has(said.text, "the hub's key and that of its authority"));
  const HubFolder copy = sure(HubFolder::open(folder.file("copy"), false));
  CHECK(mode_of(copy.issuing_key()) == 0600);
  CHECK(contents(copy.issuing_key()) == contents(hub.issuing_key()));

  const HubFolder fresh = sure(HubFolder::open(folder.file("fresh"), true));
  sure(restore_hub(fresh, copy.path(), kTestNow_ms));
  CHECK(sure(renew_certificate(fresh, kNow_s + 350 * kDay_s)));

  sure(export_hub(hub, "", folder.file("export"), kTestNow_ms));
  for (const auto& one : std::filesystem::recursive_directory_iterator(folder.file("export"))) {
    if (!one.is_regular_file()) continue;
    CHECK_FALSE(has(contents(one.path().string()), "PRIVATE KEY"));
  }
}

TEST_CASE(
    "the command makes an authority once, tells it again, and changes it only when asked to") {
  const LedgerFolder folder;
  const HubFolder hub = with_keys(folder);
  const std::vector<std::string> asked = {"authority", "--data", hub.path(), "--no-qr"};
  const auto with = [&](std::vector<std::string> more) {
    more.insert(more.begin(), asked.begin(), asked.end());
    return run_hub(more, folder);
  };
  const Said made = with({"--name", "hub.shop.example"});
  CHECK(made.exit == 0);
  const HubAuthority first = *sure(read_authority(hub));
  CHECK(has(made.text, shown_fingerprint(first.fingerprint).substr(0, 47)));
  CHECK(has(made.text, "https://hub.shop.example:8470/authority"));
  CHECK(with({}).exit == 0);
  CHECK(sure(read_authority(hub))->fingerprint == first.fingerprint);
  const Said other = with({"--name", "hub.example"});
  CHECK(other.exit == 1);
  CHECK(has(other.text, "--anew"));
  CHECK(with({"--name", "hub.example", "--anew"}).exit == 0);
  CHECK(sure(read_authority(hub))->names == std::vector<std::string>{"hub.example"});
  CHECK(with({"--name", "example", "--anew"}).exit == 1);
  CHECK(sure(read_authority(hub))->names == std::vector<std::string>{"hub.example"});
}

}  // namespace
}  // namespace chipfall
