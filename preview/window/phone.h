#pragma once

#include <array>
#include <map>
#include <memory>
#include <optional>
#include <set>
#include <string>
#include <vector>

#include "preview/window/device.h"
#include "preview/window/pen.h"
#include "preview/window/timed.h"

/// One device in somebody's hand: its door, the screen that it shows, and what was entered so far.
namespace chipfall::window {

enum class Screen {
  kHome,
  kMachines,
  kUse,
  kStock,
  kCrew,
  kList,
  kReason,
  kBins,
  kBinSeen,
  kFinish,
  kMap,
  kEvening,
  kRoute,
  kSignOff,
  kClosed,
  kCoordinator,
  kHistory,
};

/// How the duties of a list stand on this phone, by their ids.
using Endings = std::map<std::string, std::string>;  ///< done, passed on, not needed

enum class ListView { kOne, kAll, kLanes };

struct MemberState {
  proto::Session draft;
  int use = 0;                ///< position in draft.uses that is being changed
  double within_minutes = 0;  ///< 0: as long as it takes
  std::optional<proto::WindDown> list;
  bool started = false;  ///< the tools are down: the list is recorded
  proto::EntryName session;
  Endings ended;
  std::set<std::string> dirtier;
  Timed timed;
  int at = 0;  ///< position in the list, one at a time
  ListView view = ListView::kOne;
  std::optional<proto::DustMap> map;
  std::string zone;     ///< the one touched on the map
  float air_share = 0;  ///< of the time until the air is clear
};

struct CloserState {
  int people = 1;
  int begin_minute = 21 * 60 + 40;
  bool begin_known = true;
  std::optional<proto::LockUp> list;
  Endings ended;
  std::set<std::string> signed_off;
  Timed timed;
  int at = 0;
  ListView view = ListView::kOne;
  std::uint64_t as_of = 0;  ///< the door's changes when the list came
  std::string closed;       ///< what was recorded at the end
};

struct CoordinatorState {
  int part = 0;  ///< bins, round, notices, minutes
  int next_round_days = 7;
  std::optional<proto::Coordinator> answer;
  std::optional<proto::Standing> standing;
};

class Phone {
 public:
  Phone(std::string name, Screen first, std::unique_ptr<Device> device);

  // -- Asking. What cannot be is told on the screen.
  void load_shop();
  void plan();
  void draw_map();
  void ask_lock_up();
  void ask_coordinator();
  void ask_standing();
  void ask_history();
  void ask_saving();
  /// One thing that happened; `then` after it is on the disk. Only one at a time, so that a second
  /// tap does not record twice: false, and nothing happens, while one is on its way.
  bool record(proto::Record what, std::function<void(const proto::Recorded&)> then);

  /// What changed elsewhere is asked for again. True: something has to be drawn.
  bool look();

  void go(Screen next);  ///< back leads here again
  void back();
  void home();

  std::string name;
  float text_size = 1;
  Screen screen;
  std::vector<Screen> came_from;
  std::map<Screen, Scroll> scrolls;
  std::array<Scroll, 4> wide_scrolls;  ///< of the parts side by side
  bool wide = false;                   ///< a desk's screen, not a hand's
  SeenLayer seen;
  std::unique_ptr<Device> device;

  proto::ShopLists shop;
  bool shop_known = false;
  proto::Standing standing;
  proto::Saving saving;
  proto::History history;
  std::string sync_words;  ///< where its entries are, by the door; empty: it never joined a hub
  Errors trouble;
  bool recording = false;
  std::string saved;  ///< the last thing that was saved, in words
  std::string member_name;

  MemberState member;
  CloserState closer;
  CoordinatorState coordinator;

  // -- Passing on, and a bin's fill, from whichever screen asked.
  proto::Record passing;
  std::string passing_title;
  std::function<void(const std::string& reason)> pass_on;
  std::string own_reason;
  std::string bin;

 private:
  using Take = std::function<void(const proto::Response&)>;
  void ask(proto::Request request, Take take);

  std::uint64_t shown_changes_ = 0;
};

/// Draws the phone's screen into `at`, and does what was tapped.
void draw_phone(Phone& phone, Type& type, Hands& hands, const Rect& at);

}  // namespace chipfall::window
