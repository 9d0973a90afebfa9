#pragma once

#include <string>

namespace chipfall::sim {

/// How often hard things happen, each out of a thousand steps while the weather lasts.
struct Weather {
  int cut = 30;           ///< a connection is cut, some bytes of it lost
  int flip = 4;           ///< a bit on its way is turned
  int phone_crash = 10;   ///< a phone's program is killed
  int hub_crash = 5;      ///< the hub loses power
  int hub_full = 4;       ///< the hub's disk is full for some commits
  int backup_phone = 6;   ///< a phone's file is copied aside
  int restore_phone = 0;  ///< a phone's file goes back to that copy
  int clone_phone = 0;    ///< a phone's file is copied to a second phone
  int clone_copy = 0;     ///< a copy that has yet to meet the hub is copied once more
  int restore_hub = 0;    ///< the hub goes back to an earlier position, under a new epoch
  int clock_jump = 6;     ///< a phone's clock jumps by up to two years
  int replay = 4;         ///< an old recording of a connection is played to the hub
  int refuse_entry = 0;   ///< the hub will never take a phone's next entry
  int look = 10;          ///< a phone's views catch up, as when somebody opens the screen
  int append = 250;       ///< a phone records one to five entries
  int append_many = 2;    ///< a phone records three hundred at once: more than a batch
  int steps = 250;
  int phones = 4;
  int members = 1;             ///< of these phones
  bool notices_copy = true;    ///< whether a restored phone knows that it was restored
  bool forgetful_hub = false;  ///< acknowledges before its commit is on disk: a broken rule
  bool mixing_hub = false;     ///< takes entries of two copies under one name: a broken rule
  bool chance_names = false;   ///< moved entries get names by chance: a broken rule
};

/// What a run has reached: without these it would prove nothing.
struct Sometimes {
  int ack_lost = 0, resent = 0, renamed = 0, hub_restored = 0, parked = 0, replay_refused = 0,
      bit_flip_seen = 0, commit_failed = 0, clock_measured = 0, relayed = 0, moved = 0, looked = 0,
      views_outdated = 0, killed_before_views = 0, pages = 0, copied_again = 0;
  Sometimes& operator+=(const Sometimes& other);
  std::string text() const;
};

}  // namespace chipfall::sim
