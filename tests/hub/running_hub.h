#pragma once

#include <atomic>
#include <memory>
#include <mutex>
#include <string>
#include <thread>
#include <vector>

#include "sync/hub_server.h"
#include "sync/installation.h"
#include "sync/link.h"
#include "sync/secret.h"
#include "sync/tls.h"
#include "tests/unit/ledger_folder.h"

/// Hubs on loopback and devices that talk to them, for tests.
namespace chipfall {

/// A hub that serves from a thread of this process.
class RunningHub {
 public:
  explicit RunningHub(const std::string& path, HubServerOptions options = {})
      : folder_(sure(HubFolder::open(path, true))) {
    options.settings.bind = "127.0.0.1";
    options.settings.port = options.settings.port == kUsualPort ? 0 : options.settings.port;
    options.reserve_bytes = options.reserve_bytes < 0 ? 64 * 1024 : options.reserve_bytes;
    journal_ = std::make_unique<HubJournal>(
        [this](const std::string& line) {
          const std::lock_guard lock(lines_lock_);
          lines_ += line;
        },
        [] { return moment_now().utc_ms; });
    server_ = sure(HubServer::open(folder_, options, *journal_));
    thread_ = std::thread([this] { server_->run(); });
  }
  RunningHub(const RunningHub&) = delete;
  RunningHub& operator=(const RunningHub&) = delete;
  ~RunningHub() { stop(); }

  void stop() {
    if (!thread_.joinable()) return;
    server_->stop();
    thread_.join();
    server_.reset();
  }
  std::uint16_t port() const { return server_->port(); }
  const HubCounts& counts() const { return server_->counts(); }
  const HubFolder& folder() const { return folder_; }
  std::string lines() {
    const std::lock_guard lock(lines_lock_);
    return lines_;
  }

 private:
  HubFolder folder_;
  std::mutex lines_lock_;
  std::string lines_;
  std::unique_ptr<HubJournal> journal_;
  std::unique_ptr<HubServer> server_;
  std::thread thread_;
};

/// The log of a shop in a hub's folder, as another process would open it.
inline std::unique_ptr<SqliteHubLog> shop_in(const HubFolder& folder,
                                             const std::string& name = "") {
  return sure(folder.find_shop(name));
}

/// A code as the coordinator makes it.
inline JoinCode code_for(const HubFolder& folder, std::uint16_t port,
                         proto::Role role = proto::ROLE_COORDINATOR, const std::string& shop = "",
                         std::int64_t lasts_ms = kJoinCodeLasts_ms) {
  JoinCode code{"127.0.0.1", port, sure(tls::fingerprint_of_file(folder.certificate())),
                fresh_bytes(kJoinSecretBytes)};
  const std::int64_t now = moment_now().utc_ms;
  sure(shop_in(folder, shop)->add_join_code({sha256(code.secret), role, now + lasts_ms, ""}, now));
  return code;
}

/// A device with its ledger in a file.
class Phone {
 public:
  explicit Phone(const std::string& path)
      : store_(sure(LedgerStore::open(path, of_new_device(path)))),
        state_(sure(DeviceState::open(store_, "", fresh_bytes))),
        machine_(state_, fresh_bytes) {}
  Phone(const Phone&) = delete;
  Phone& operator=(const Phone&) = delete;

  /// Connects, does all there is to do and goes; `join` at first where a code is given.
  LinkEnd sync(const HubAddress& address, const JoinCode* join = nullptr,
               std::int64_t most_ms = 10'000) {
    if (join != nullptr) sure(machine_.join_with(*join, "test phone"));
    LinkOptions options;
    options.once = true;
    options.most_ms = most_ms;
    options.changed = [this](const SyncProgress& progress) {
      last_ = progress;
      if (progress.refusal) refusal_ = progress.refusal;
    };
    refusal_.reset();
    Link link(machine_, address, options);
    const LinkEnd end = sure(link.run());
    failure_ = link.last_failure();
    return end;
  }
  LinkEnd join(const JoinCode& code) {
    return sync({code.host, code.port, code.fingerprint}, &code);
  }

  void write(int notes, const std::string& text = "bench swept") {
    std::vector<proto::Entry> entries;
    for (int i = 0; i < notes; ++i) entries.push_back(note(text + " " + std::to_string(i)));
    sure(store_.append(entries, moment_now().utc_ms));
  }
  std::int64_t count() { return sure(store_.counts()).entries; }
  LedgerStore& store() { return store_; }
  DeviceState& state() { return state_; }
  DeviceMachine& machine() { return machine_; }
  const SyncProgress& last() const { return last_; }
  proto::RefusalKind refusal() const {
    return refusal_ ? refusal_->kind() : proto::REFUSAL_UNSPECIFIED;
  }
  const std::string& failure() const { return failure_; }

 private:
  static LedgerOptions of_new_device(const std::string& path) {
    return of_device(std::filesystem::exists(path) ? std::string() : fresh_bytes(16));
  }

  LedgerStore store_;
  DeviceState state_;
  DeviceMachine machine_;
  SyncProgress last_;
  std::optional<proto::Refusal> refusal_;
  std::string failure_;
};

inline HubAddress address_of(const HubFolder& folder, std::uint16_t port) {
  return {"127.0.0.1", port, sure(tls::fingerprint_of_file(folder.certificate()))};
}

inline bool has(const std::string& text, const std::string& part) {
  return text.find(part) != std::string::npos;
}

template <typename Condition>
bool soon(const Condition& condition, int most_ms = 8'000) {
  for (int waited = 0; waited < most_ms; waited += 10) {
    if (condition()) return true;
    ::usleep(10'000);
  }
  return condition();
}

/// Every entry of the log: (device, sequence) -> bytes.
inline std::map<std::pair<std::string, std::uint64_t>, std::string> entries_of(SqliteHubLog& log) {
  std::map<std::pair<std::string, std::uint64_t>, std::string> all;
  sure(log.visit(0, [&](const LoggedEntry& entry) {
    const auto added =
        all.emplace(std::pair(std::string(entry.device), entry.sequence), entry.bytes);
    CHECK_MESSAGE(added.second, "an entry is in the log twice");
    return true;
  }));
  return all;
}

}  // namespace chipfall
