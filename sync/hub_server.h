#pragma once

#include <cstdint>
#include <functional>
#include <memory>
#include <string>

#include "sync/hub_counts.h"
#include "sync/hub_folder.h"
#include "sync/hub_journal.h"
#include "sync/hub_path.h"
#include "sync/hub_session.h"
#include "sync/hub_settings.h"

/// The hub on the network: one port with TLS 1.3, on it WebSocket at kSyncPath for devices and
/// plain HTTP for /healthz and /metrics.
///
/// One thread for the network and all state machines, one for writing. The driver decides nothing
/// about the protocol: it carries frames between sockets and HubSession, offers to HubWriter and
/// answers back, and enforces the bounds below, which are about sockets.
///
/// Memory of the hub: at most connections x (kPushWindow + kMostQueuedBytes + kMostFrameBytes),
/// and kMostBacklogBytes of entries on their way to the disk; about 30 KB for an idle connection.
namespace chipfall {

/// Frames waiting for one device; a window of pages, and answers beside it. A device that lets
/// more gather is cut off: it reads too slowly to be served.
constexpr std::size_t kMostQueuedBytes = 512 * 1024;
/// Nothing more is read from a device that has not taken its answers.
constexpr std::size_t kPauseReadingAt_bytes = 384 * 1024;
/// Entries of all connections waiting for the disk, before the hub reads no more from anyone.
constexpr std::int64_t kMostBacklogBytes = 64LL * 1024 * 1024;
constexpr std::int64_t kMostOpening_ms = 10'000;  ///< TLS handshake and HTTP request
constexpr std::int64_t kMostWrite_ms = 60'000;    ///< for one frame, by a device on a poor network
constexpr std::int64_t kMostDrain_ms = 5'000;     ///< at the end, for goodbyes
constexpr std::int64_t kLiveUpdate_ms = 10;       ///< entries gather before they are passed on
constexpr std::int64_t kMembershipLook_ms = 200;  ///< until a revoked device is turned away
/// In the system's memory beside it; at 100 ms of way and back this still is 2.5 MB/s.
constexpr int kSocketSendBytes = 256 * 1024;
constexpr std::size_t kMostHeaderBytes = 8 * 1024;
/// Connections over the setting's number that are still told "busy" instead of nothing.
constexpr int kToldBusy = 16;

struct HubServerOptions {
  HubSettings settings;
  std::function<Moment()> now;                ///< empty: the system's clocks
  std::function<std::int64_t()> free_bytes;   ///< empty: of the data folder's disk
  std::int64_t reserve_bytes = -1;            ///< negative: kReserveBytes
  std::int64_t tick_ms = 1'000;               ///< how often silence is looked for
  std::int64_t opening_ms = kMostOpening_ms;  ///< for tests, who do not wait so long
  bool stop_on_signals = false;               ///< SIGTERM and SIGINT
};

class HubServer {
 public:
  /// Opens the shops (one is made where there is none) and the port. `folder` and `journal` outlive
  /// the server.
  static OrError<std::unique_ptr<HubServer>> open(const HubFolder& folder,
                                                  const HubServerOptions& options,
                                                  HubJournal& journal);
  ~HubServer();

  std::uint16_t port() const;
  const std::string& fingerprint() const;
  const HubCounts& counts() const;

  /// Serves until stopped; then everything taken is on disk.
  void run();
  /// From any thread: takes no more, says goodbye, ends `run` within kMostDrain_ms and a commit.
  void stop();

 private:
  class Inside;
  explicit HubServer(std::unique_ptr<Inside> inside);
  std::unique_ptr<Inside> inside_;
};

}  // namespace chipfall
