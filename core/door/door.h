#pragma once

#include <cstdint>
#include <functional>
#include <memory>
#include <optional>
#include <span>
#include <string>
#include <string_view>

#include "core/door/draft.h"
#include "core/door/record.h"
#include "core/door/remembered.h"
#include "core/door/syncing.h"
#include "core/ledger/views.h"

/// The door: everything that a shell may ask, as bytes in and bytes out (core/proto/door.proto).
///
/// One shop with its ledger in one folder. Shells in other languages come through chipfall.h, which
/// is this class behind C functions; C++ shells should too, so that they show what a phone shows.
namespace chipfall {

/// A draft of a session or a sheet is thousands of bytes; a batch of sync a million.
inline constexpr std::size_t kMostRequestBytes = 16 << 20;
inline constexpr std::uint32_t kDoorFormat = 1;
inline constexpr const char* kLedgerFile = "ledger.sqlite3";  ///< in the data folder
inline constexpr std::size_t kDeviceBytes = 16;

struct DoorOptions {
  /// Holds the ledger; must exist. Empty: nothing is kept, and recording is refused.
  std::string data_folder;
  bool must_exist = false;               ///< the ledger, too
  std::function<std::int64_t()> now_ms;  ///< the wall clock, ms since 1970 in UTC
  /// Fills the bytes with ones that nobody can guess; false where it cannot. Asked when the folder
  /// gets its ledger, and while joining and syncing.
  std::function<bool(std::span<std::uint8_t>)> random;
  OpenSyncing open_syncing;  ///< empty: joining and syncing are refused
};

/// The serialized Response that only says what is wrong.
std::string mistakes_response(const Errors& errors);

class Door {
 public:
  /// Opens or makes the ledger and loads the shop sheet that it keeps. A kept sheet that cannot be
  /// used is no error: `saving` tells its mistakes, and another one can be loaded.
  static OrError<std::unique_ptr<Door>> open(DoorOptions options);

  /// The serialized Response to a serialized Request. Any bytes get an answer. What a request
  /// records is on disk when the answer comes. Throws only std::bad_alloc; the door stays usable.
  std::string call(std::string_view request);

  /// A number that grows whenever something that a screen shows may have changed: a shell asks
  /// again when it is not the one that it drew. Sees entries that other processes wrote.
  std::uint64_t changes();

  Door(const Door&) = delete;
  Door& operator=(const Door&) = delete;

 private:
  explicit Door(DoorOptions options) : options_(std::move(options)) {}

  OrError<void> open_ledger();
  /// Takes in what arrived since, by whatever way.
  OrError<void> refresh();
  void use_kept_sheet(const SheetFact& fact);

  std::string answered(std::string_view bytes, proto::Request& request, proto::Response& response);
  void answer(const proto::Request& request, proto::Response& response);
  void load_sheet(const proto::LoadSheet& asked, proto::Response& response);
  void check(const proto::Request& request, proto::Response& response);
  void list_shop(proto::Response& response);
  void draw_shop(proto::Response& response);
  void list(const proto::AskList& asked, proto::Response& response);
  void plan(const proto::PlanWindDown& asked, bool map, proto::Response& response);
  void record(const proto::Record& asked, proto::Response& response);
  void standing(proto::Response& response);
  void history(const proto::ReadHistory& asked, proto::Response& response);
  void export_rows(const proto::ExportRecord& asked, proto::Response& response);
  void saving(proto::Response& response);
  void lock_up(const proto::AskLockUp& asked, proto::Response& response);
  void coordinator(const proto::Request& request, proto::Response& response);
  void sync(const proto::Request& request, proto::Response& response);
  void answer_sync(Syncing& here, const proto::Request& request, proto::Response& response);

  /// Opened when it is first asked for.
  OrError<Syncing*> syncing();

  /// What the ledger knows of the shop; a clean one where nothing is kept.
  OrError<Found> found();
  /// As it stands when the present minute is over, so that within a minute nothing is worked out
  /// twice. The door's own, until the next request.
  OrError<const Remembered*> remembered();
  OrError<void> record_passed_on(const ToRecord& made);

  bool has_shop(proto::Response& response) const;
  bool has_ledger(proto::Response& response) const;
  const ShopClock& clock() const;  ///< the shop's, else UTC
  std::string since(std::int64_t at_ms) const;
  const OpenShop* shop() const { return shop_ ? &*shop_ : nullptr; }

  DoorOptions options_;
  std::optional<LedgerStore> store_;
  std::optional<Views> views_;        // points to the store
  std::unique_ptr<Syncing> syncing_;  // as well
  std::int64_t folded_ = 0;           // arrival of the last entry taken in
  std::optional<OpenShop> shop_;
  bool borrowed_ =
      false;  // the sheet was loaded without keeping it: it stays until the door closes
  std::optional<EntryRef> kept_sheet_;
  Errors sheet_errors_;
  std::uint64_t changes_ = 1;
  std::optional<Remembered> remembered_;
  std::uint64_t remembered_at_ = 0;  // of changes_
};

}  // namespace chipfall
