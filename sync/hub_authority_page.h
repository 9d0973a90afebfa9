#pragma once

#include <optional>

#include "sync/hub_authority.h"
#include "sync/hub_http.h"

/// What a phone is shown and given to install the shop's own authority:
///
///     /authority       the steps for Android, iPhone and iPad, and the fingerprint to compare; in
///                      Spanish where the browser asks for it
///     /authority.crt   the certificate, DER, as application/x-x509-ca-cert
///
/// The page runs nothing and loads nothing.
namespace chipfall {

/// Nothing where something else is asked for.
std::optional<HubResponse> authority_response(const HubRequest& request,
                                              const HubAuthority& authority);

}  // namespace chipfall
