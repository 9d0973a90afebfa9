#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>

#include "sync/hub_asked.h"
#include "sync/hub_authority.h"
#include "sync/hub_reached.h"
#include "sync/installation.h"
#include "sync/qr_text.h"

/// `authority`: what phones install once so that their browsers trust the hub.
namespace chipfall {

namespace {

std::string page_address(const HubAuthority& authority, std::uint16_t port) {
  const std::string& name = authority.names.front();
  const bool ip6 = name.find(':') != std::string::npos;
  return fmt::format("https://{}{}{}:{}/authority", ip6 ? "[" : "", name, ip6 ? "]" : "", port);
}

/// Half the fingerprint in each line, as it fits a phone beside it.
std::string in_two_lines(const std::string& shown) {
  const std::size_t half = (shown.size() + 1) / 2;
  return fmt::format("    {}\n    {}", shown.substr(0, half - 1), shown.substr(half));
}

void tell(const HubFolder& folder, const HubAuthority& authority, std::uint16_t port, bool no_qr,
          std::ostream& out) {
  const std::string address = page_address(authority, port);
  out << fmt::format(
      "\"{}\" may vouch for {} alone, until {}.\n"
      "The file for phones is {}; nothing in it is secret.\n\n"
      "On each phone, once: open\n    {}\n"
      "which has the steps. The browser warns there, for the last time: it does not know the hub "
      "yet.\nCompare this fingerprint (SHA-256) with the one that the phone shows before it "
      "installs:\n{}\n\n",
      authority.title, fmt::join(authority.names, ", "), day_of(authority.until_utc_s),
      folder.authority(), address, in_two_lines(shown_fingerprint(authority.fingerprint)));
  const auto drawn = qr_text(address);
  if (!no_qr && drawn) out << *drawn;
}

int authority_of(const HubFolder& folder, const HubAsked& asked, std::ostream& out,
                 std::ostream& err) {
  const auto served = served_settings(folder);
  if (!served) return explain(served.error(), err);
  if (!served->certificate.empty()) {
    return explain({ErrorCode::kMistake,
                    "the hub shows this certificate, which phones trust or not as it is. An "
                    "authority is for a hub without one: take `certificate` and `key` out of its "
                    "settings and start it again first",
                    {served->certificate, 0, 0, ""}},
                   err);
  }
  const std::uint16_t serving = ServingLock::port_in(folder);
  const std::uint16_t port = serving != 0 ? serving : served->port;
  const auto known = read_authority(folder);
  if (!known) return explain(known.error(), err);
  std::vector<std::string> wanted = asked.names;
  if (wanted.empty()) wanted = {served->address.empty() ? own_address() : served->address};
  if (*known && !asked.anew) {
    const auto names = authority_names(asked.names.empty() ? (*known)->names : wanted);
    if (!names) return explain(names.error(), err);
    if (!std::is_permutation(names->begin(), names->end(), (*known)->names.begin(),
                             (*known)->names.end())) {
      return explain({ErrorCode::kMistake,
                      fmt::format("is there already, for {}. Names cannot be added; with --anew a "
                                  "new one takes its place, and every phone has to install that",
                                  fmt::join((*known)->names, ", ")),
                      {folder.authority(), 0, 0, ""}},
                     err);
    }
    tell(folder, **known, port, asked.no_qr, out);
    return code(HubExit::kDone);
  }
  const auto names = authority_names(wanted);
  if (!names) return explain(names.error(), err);
  const auto keys = folder.ensure_keys();
  if (!keys) return explain(keys.error(), err);
  const auto made = make_authority(folder, *names, moment_now().utc_ms / 1000);
  if (!made) return explain(made.error(), err);
  tell(folder, *made, port, asked.no_qr, out);
  err << "The hub's key stayed: phones that have joined notice nothing. A hub that serves shows "
         "the new certificate within seconds.\n";
  return code(HubExit::kDone);
}

}  // namespace

int authority(const HubAsked& asked, std::ostream& out, std::ostream& err) {
  return with_folder(asked, false, err, [&](const HubFolder& folder) {
    return authority_of(folder, asked, out, err);
  });
}

}  // namespace chipfall
