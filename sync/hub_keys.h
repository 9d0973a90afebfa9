#pragma once

#include <string>

#include "core/ledger/sqlite.h"

/// A hub's own key and certificate.
namespace chipfall {

/// Devices pin the key and never look at the dates; they are wide so that other tools do not mind.
constexpr long kCertificateDays = 100 * 365;

/// Writes a new P-256 key and a certificate that it signed itself, both in PEM form, the key for
/// its owner's eyes only. Neither file may exist.
OrError<void> make_keys(const std::string& certificate_path, const std::string& key_path);

}  // namespace chipfall
