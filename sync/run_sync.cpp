#include "sync/run_sync.h"

#include <fmt/format.h>

#include <boost/asio/io_context.hpp>
#include <boost/asio/signal_set.hpp>
#include <filesystem>
#include <ostream>
#include <thread>

#include "sync/installation.h"
#include "sync/link.h"

namespace chipfall {

namespace {

constexpr std::size_t kDeviceBytes = 16;

int code(SyncExit exit) { return static_cast<int>(exit); }

int explain(const Error& error, std::ostream& err) {
  err << error.text() << "\n";
  return code(error.code == ErrorCode::kMistake ? SyncExit::kMistake : SyncExit::kFailed);
}

std::string entries_text(std::int64_t count) {
  return count == 1 ? std::string("1 entry") : fmt::format("{} entries", count);
}

/// In the order that an entry goes: saved here, on its way, at the hub.
std::string progress_line(const SyncProgress& progress) {
  std::string line;
  switch (progress.link) {
    case SyncProgress::Link::kNotJoined:
      line = "not joined yet";
      break;
    case SyncProgress::Link::kOffline:
      line = "no connection";
      break;
    case SyncProgress::Link::kConnecting:
      line = "connecting";
      break;
    case SyncProgress::Link::kSyncing:
      line = "connected";
      break;
    case SyncProgress::Link::kUpToDate:
      line = "up to date";
      break;
    case SyncProgress::Link::kRefused:
      line = "turned away";
      break;
  }
  line +=
      fmt::format(": {} saved here, {} on its way, {} at the hub",
                  progress.saved_here - progress.on_its_way, progress.on_its_way, progress.at_hub);
  if (progress.to_pull > progress.pulled) {
    line += fmt::format(", {} to fetch", progress.to_pull - progress.pulled);
  }
  if (progress.parked > 0) {
    line += fmt::format(", {} set aside", entries_text(progress.parked));
  }
  return line;
}

int end_of(LinkEnd end, const Link& link, const std::optional<proto::Refusal>& refusal,
           std::ostream& err) {
  switch (end) {
    case LinkEnd::kUpToDate:
    case LinkEnd::kStopped:
      return code(SyncExit::kDone);
    case LinkEnd::kOffline:
      err << (refusal ? refusal->sentence() : link.last_failure())
          << ". Nothing is lost: what is saved here goes to the hub another time.\n";
      return code(SyncExit::kNotYet);
    case LinkEnd::kRefused:
      err << (refusal ? refusal->sentence() : "the hub refused") << "\n";
      return code(SyncExit::kMistake);
    case LinkEnd::kWrongKey:
      err << link.last_failure() << "\n";
      return code(SyncExit::kWrongKey);
  }
  return code(SyncExit::kFailed);
}

/// Waits for SIGINT and SIGTERM on a thread of its own and stops the link then.
class StopOnSignals {
 public:
  explicit StopOnSignals(Link& link) : signals_(io_, SIGINT, SIGTERM) {
    signals_.async_wait([&link](boost::system::error_code cancelled, int) {
      if (!cancelled) link.stop();
    });
    thread_ = std::thread([this] { io_.run(); });
  }
  StopOnSignals(const StopOnSignals&) = delete;
  StopOnSignals& operator=(const StopOnSignals&) = delete;
  ~StopOnSignals() {
    io_.stop();
    thread_.join();
  }

 private:
  boost::asio::io_context io_;
  boost::asio::signal_set signals_;
  std::thread thread_;
};

}  // namespace

int run_sync(const SyncOptions& options, std::ostream& out, std::ostream& err) {
  const bool joining = !options.code.empty();
  OrError<JoinCode> join = joining ? read_join_code(options.code) : JoinCode{};
  if (!join) return explain(join.error(), err);
  LedgerOptions ledger_options;
  ledger_options.may_create = joining;
  std::error_code ignored;
  if (joining && !std::filesystem::exists(options.ledger, ignored)) {
    ledger_options.device = fresh_bytes(kDeviceBytes);
  }
  auto store = LedgerStore::open(options.ledger, ledger_options);
  if (!store) return explain(store.error(), err);
  const std::string installation = options.installation.empty()
                                       ? installation_name()
                                       : installation_name_in(options.installation);
  auto state = DeviceState::open(*store, installation, fresh_bytes);
  if (!state) return explain(state.error(), err);
  DeviceMachine machine(*state, fresh_bytes);
  if (joining) {
    const auto ready = machine.join_with(*join, options.label);
    if (!ready) return explain(ready.error(), err);
  }
  const std::optional<HubAddress> address =
      joining ? HubAddress{join->host, join->port, join->fingerprint} : state->hub();
  if (!address || (!joining && state->place().shop.empty())) {
    err << "This ledger has not joined a hub: ask the coordinator for a code, then `chipfall join "
           "CODE`.\n";
    return code(SyncExit::kMistake);
  }

  std::string last_line;
  std::optional<proto::Refusal> refusal;
  LinkOptions link_options;
  link_options.once = !options.stay;
  link_options.changed = [&](const SyncProgress& progress) {
    if (progress.refusal) refusal = progress.refusal;
    std::string line = progress_line(progress);
    if (line == last_line) return;
    out << line << std::endl;
    last_line = std::move(line);
  };
  Link link(machine, *address, link_options);
  const StopOnSignals signals(link);
  const auto end = link.run();
  if (!end) return explain(end.error(), err);
  if (joining && !state->pending_join()) {
    out << fmt::format("joined \"{}\"\n", state->place().shop_name);
  }
  return end_of(*end, link, refusal, err);
}

}  // namespace chipfall
