#include "sync/hub_authority_page.h"

#include <fmt/format.h>
#include <fmt/ranges.h>
#include <openssl/evp.h>

#include <array>

#include "sync/secret.h"

namespace chipfall {

namespace http = boost::beast::http;

namespace {

constexpr std::string_view kPagePath = "/authority";
constexpr std::string_view kFilePath = "/authority.crt";

// Letters and paper as in the phone's page (look/page.css), with the same contrast.
constexpr std::string_view kStyle =
    "body{font:1.1rem/1.5 system-ui,sans-serif;max-width:38rem;margin:0 auto;padding:1rem;"
    "background:#faf6ef;color:#2a2420}"
    "h1{font-size:1.5rem;line-height:1.2}h2{font-size:1.2rem}li{margin:.4rem 0}"
    "code{display:block;font:700 1.15rem/1.6 monospace;background:#fff;border:2px solid #6b5d4f;"
    "border-radius:.5rem;padding:.6rem;overflow-wrap:anywhere}"
    "a{color:inherit}a.get{display:block;text-align:center;padding:.8rem;border-radius:.6rem;"
    "background:#7a3e12;"
    "color:#fff;font-weight:700;text-decoration:none}"
    "@media(prefers-color-scheme:dark){body{background:#1e1a17;color:#f3ece2}"
    "code{background:#2b2521;border-color:#b5a594}a.get{background:#f0b37e;color:#2a1a0c}}";

/// {0} the fingerprint, {1} how phones list it, {2} its names, {3} the style.
constexpr std::string_view kEnglish = R"(<!doctype html>
<html lang="en"><head><meta charset="utf-8">
<meta name="viewport" content="width=device-width,initial-scale=1">
<title>Let this phone trust the hub</title><style>{3}</style></head><body>
<h1>Let this phone trust the shop’s hub</h1>
<p>Once on each phone. Then the page works without a network, and your browser no longer warns.</p>
<p><strong>Compare first.</strong> This fingerprint has to be the one on the sheet or screen in the
shop’s office, letter for letter. If it is not, stop, install nothing, and tell the coordinator.</p>
<code>{0}</code>
<p>It is called <strong>{1}</strong> and can vouch for these alone: <strong>{2}</strong>.</p>
<p><a class="get" href="/authority.crt">Get the certificate</a></p>
<h2>iPhone and iPad</h2>
<ol><li>Open this page in Safari, tap the button above, and allow the download.</li>
<li>Settings, <em>Profile Downloaded</em>. Tap <em>More Details</em>, then the certificate, and
compare the SHA-256 fingerprint. Go back and tap <em>Install</em>.</li>
<li>Settings, General, About, <em>Certificate Trust Settings</em>: switch on the one called
{1}.</li></ol>
<h2>Android</h2>
<ol><li>Tap the button above; the file goes to Downloads.</li>
<li>Settings: search for <em>CA certificate</em> (mostly Security, More, Encryption and credentials,
Install a certificate). Android warns that somebody could read along: see below. Choose the
file.</li>
<li>In <em>Trusted credentials</em>, tab <em>User</em>, tap it and compare the SHA-256
fingerprint. If it differs, remove it there.</li>
<li>Use Chrome. Firefox has to be told by itself to use the phone’s certificates.</li></ol>
<h2>What you agree to</h2>
<p>Installing an authority is a matter of trust: your phone will believe what it signs. This one is
limited, by what stands in it, to the names above: it cannot vouch for your bank or your mail. Its
key lies on the hub; whoever takes it could pose as this hub, and as nothing else. A phone may stay
without it: the page then works while the network does. Remove it when you leave the shop:
iPhone: Settings, General, VPN &amp; Device Management. Android: Trusted credentials, User.</p>
<p><a href="/">To the shop’s page</a></p>
</body></html>
)";

constexpr std::string_view kSpanish = R"(<!doctype html>
<html lang="es"><head><meta charset="utf-8">
<meta name="viewport" content="width=device-width,initial-scale=1">
<title>Que este teléfono confíe en el servidor</title><style>{3}</style></head><body>
<h1>Que este teléfono confíe en el servidor del taller</h1>
<p>Una vez en cada teléfono. Después la página funciona sin red y el navegador ya no avisa.</p>
<p><strong>Primero compara.</strong> Esta huella tiene que ser la de la hoja o la pantalla de la
oficina del taller, letra por letra. Si no lo es, para, no instales nada y avisa a
coordinación.</p>
<code>{0}</code>
<p>Se llama <strong>{1}</strong> y solo puede responder por: <strong>{2}</strong>.</p>
<p><a class="get" href="/authority.crt">Descargar el certificado</a></p>
<h2>iPhone y iPad</h2>
<ol><li>Abre esta página en Safari, toca el botón de arriba y permite la descarga.</li>
<li>Ajustes, <em>Perfil descargado</em>. Toca <em>Más detalles</em>, luego el certificado, y compara
la huella SHA-256. Vuelve y toca <em>Instalar</em>.</li>
<li>Ajustes, General, Información, <em>Ajustes de confianza de los certificados</em>: activa
el que se llama {1}.</li></ol>
<h2>Android</h2>
<ol><li>Toca el botón de arriba; el archivo va a Descargas.</li>
<li>Ajustes: busca <em>certificado de CA</em> (casi siempre Seguridad, Más, Cifrado y credenciales,
Instalar un certificado). Android avisa de que alguien podría leer lo que envías: mira
abajo. Elige el archivo.</li>
<li>En <em>Credenciales de confianza</em>, pestaña <em>Usuario</em>, tócalo y compara la huella
SHA-256. Si es distinta, quítalo ahí.</li>
<li>Usa Chrome. A Firefox hay que decirle aparte que use los certificados del
teléfono.</li></ol>
<h2>Lo que aceptas</h2>
<p>Instalar una autoridad es cuestión de confianza: tu teléfono creerá lo que ella firme.
Esta se limita, por lo que lleva escrito, a los nombres de arriba: no puede responder por tu banco ni
por tu correo. Su clave está en el servidor; quien se la lleve podría hacerse pasar por
este servidor y por nada más. Un teléfono puede quedarse sin ella: la página funciona
entonces mientras haya red. Quítala cuando dejes el taller: iPhone: Ajustes, General, VPN y
gestión de dispositivos. Android: Credenciales de confianza, Usuario.</p>
<p><a href="/">A la página del taller</a></p>
</body></html>
)";

std::string_view view_of(boost::beast::string_view text) { return {text.data(), text.size()}; }

/// The page's policy names its style by hash (CSP level 2), so that nothing else counts.
std::string policy() {
  const std::string hash = sha256(kStyle);
  std::array<unsigned char, 64> encoded{};
  const int length =
      EVP_EncodeBlock(encoded.data(), reinterpret_cast<const unsigned char*>(hash.data()),
                      static_cast<int>(hash.size()));
  return fmt::format(
      "default-src 'none'; style-src 'sha256-{}'; base-uri 'none'; form-action 'none'; "
      "frame-ancestors 'none'",
      std::string_view(reinterpret_cast<const char*>(encoded.data()),
                       static_cast<std::size_t>(length)));
}

}  // namespace

std::optional<HubResponse> authority_response(const HubRequest& request,
                                              const HubAuthority& authority) {
  const std::string_view target = view_of(request.target());
  const std::string_view path = target.substr(0, target.find('?'));
  std::string body;
  HubResponse response(http::status::ok, request.version());
  response.set(http::field::server, "chipfall-hub");
  if (path == kPagePath) {
    const bool spanish = view_of(request[http::field::accept_language]).starts_with("es");
    body = fmt::format(fmt::runtime(spanish ? kSpanish : kEnglish),
                       shown_fingerprint(authority.fingerprint), authority.title,
                       fmt::join(authority.names, ", "), kStyle);
    response.set(http::field::content_type, "text/html; charset=utf-8");
    response.set(http::field::vary, "Accept-Language");
    response.set("Content-Security-Policy", policy());
  } else if (path == kFilePath) {
    body = authority.certificate_der;
    response.set(http::field::content_type, "application/x-x509-ca-cert");
    response.set(http::field::content_disposition, "attachment; filename=\"chipfall-hub.crt\"");
  } else {
    return std::nullopt;
  }
  response.set(http::field::cache_control, "no-store");
  response.set("X-Content-Type-Options", "nosniff");
  response.set("Referrer-Policy", "no-referrer");
  response.keep_alive(false);
  const std::size_t bytes = body.size();
  if (request.method() != http::verb::head) response.body() = std::move(body);
  response.content_length(bytes);
  return response;
}

}  // namespace chipfall
