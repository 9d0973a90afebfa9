#include "tests/tools/hub_load/pulling.h"

#include <fmt/format.h>
#include <sys/resource.h>

#include <filesystem>
#include <map>

#include "sync/batch.h"
#include "sync/device_state.h"
#include "sync/installation.h"
#include "sync/link.h"
#include "sync/secret.h"
#include "sync/tls.h"
#include "tests/tools/hub_load/bare.h"
#include "tests/tools/hub_load/hub_child.h"
#include "tests/unit/ordinary_entries.h"

namespace chipfall::load {

namespace {

/// Puts these into the log as phones would have, some sessions at a time.
void fill(SqliteHubLog& log, const std::vector<std::string>& rows) {
  for (std::size_t i = 0; i < rows.size();) {
    std::map<std::string, Offer> offers;
    for (std::size_t n = 0; n < 1'000 && i < rows.size(); ++n, ++i) {
      proto::Entry entry;
      entry.ParseFromString(rows[i]);
      Offer& offer = offers[entry.device()];
      offer.device = entry.device();
      offer.entries.push_back(rows[i]);
      offer.sequences.push_back(entry.sequence());
    }
    std::vector<Offer> all;
    for (auto& [device, offer] : offers) all.push_back(std::move(offer));
    sure(log.commit(all, moment_now().utc_ms));
  }
}

/// What these are on the wire in batches.
std::int64_t batched_bytes(const std::vector<std::string>& rows) {
  std::int64_t bytes = 0;
  for (std::size_t i = 0; i < rows.size(); i += kMostBatchEntries) {
    const auto most = std::min(kMostBatchEntries, rows.size() - i);
    bytes += static_cast<std::int64_t>(sure(encode_batch(std::span(rows).subspan(i, most))).size());
  }
  return bytes;
}

double processor_seconds() {
  rusage used{};
  ::getrusage(RUSAGE_SELF, &used);
  const auto seconds = [](const timeval& time) {
    return static_cast<double>(time.tv_sec) + 1e-6 * static_cast<double>(time.tv_usec);
  };
  return seconds(used.ru_utime) + seconds(used.ru_stime);
}

}  // namespace

std::vector<Line> measure_pull(int entries, const std::string& path) {
  const std::vector<std::string> rows = OrdinaryEntries(1).bytes(static_cast<std::size_t>(entries));
  const double plain = bare_insert_s(path + "/bare-plain", rows, 200, false);
  const double indexed = bare_insert_s(path + "/bare-indexed", rows, 200, true);
  const HubFolder folder = sure(HubFolder::open(path + "/pull", true));
  sure(folder.ensure_keys());
  JoinCode code{"127.0.0.1", 0, sure(tls::fingerprint_of_file(folder.certificate())),
                fresh_bytes(kJoinSecretBytes)};
  {
    const auto log = sure(folder.add_shop("Load", {}));
    fill(*log, rows);
    const std::int64_t now = moment_now().utc_ms;
    sure(log->add_join_code(
        {sha256(code.secret), proto::ROLE_COORDINATOR, now + kJoinCodeLasts_ms, ""}, now));
  }
  HubChild hub(folder);
  code.port = hub.port();

  LedgerOptions of_device;
  of_device.device = fresh_bytes(16);
  LedgerStore store = sure(LedgerStore::open(path + "/pulled.ledger", of_device));
  DeviceState state = sure(DeviceState::open(store, "", fresh_bytes));
  DeviceMachine machine(state, fresh_bytes);
  const double used_before = processor_seconds(), hub_before = hub.processor_seconds();
  const auto began = Clock::now();
  sure(machine.join_with(code, "fresh"));
  LinkOptions options;
  options.once = true;
  options.most_ms = 600'000;
  Link link(machine, {code.host, code.port, code.fingerprint}, options);
  const LinkEnd end = sure(link.run());
  const double took = seconds_since(began);
  const double used = processor_seconds() - used_before;
  const double hub_used = hub.processor_seconds() - hub_before;
  const std::int64_t held = sure(store.counts()).entries;
  if (end != LinkEnd::kUpToDate || held != entries) {
    throw std::runtime_error(
        fmt::format("pulled {} of {}: {}", held, entries, link.last_failure()));
  }
  hub.stop();
  const std::int64_t bytes = batched_bytes(rows);
  const double raw = bare_tls_s(bytes, folder.certificate(), folder.key());
  const std::string what = fmt::format("a fresh device pulls {} entries", entries);
  return {
      {what, fmt::format("{:.2f} s", took), "limit of 100,000: 1 s", fmt::format("{:.2f}", took)},
      {"  bare SQLite, 200 a transaction, two indexes", "", fmt::format("{:.2f} s", indexed),
       fmt::format("{:.2f}", took / indexed)},
      {"  bare SQLite, 200 a transaction, none", "", fmt::format("{:.2f} s", plain),
       fmt::format("{:.2f}", took / plain)},
      {fmt::format("  raw TLS, the same {:.2f} MB", 1e-6 * double(bytes)), "",
       fmt::format("{:.3f} s", raw), fmt::format("{:.0f}", took / raw)},
      {"  processor: device, hub", fmt::format("{:.2f} s, {:.2f} s", used, hub_used), "", ""},
      {"  bytes an entry on the wire", fmt::format("{:.1f}", double(bytes) / entries), "limit 20",
       fmt::format("{:.2f}", double(bytes) / entries / 20)},
  };
}

}  // namespace chipfall::load
