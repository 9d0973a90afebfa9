#pragma once

#include "core/crew/evening.h"
#include "core/duty/pending.h"
#include "core/proto/door.pb.h"
#include "core/shop/load.h"
#include "core/shop/local_time.h"

/// A session as a shell describes it, worked out.
namespace chipfall {

/// A shop that is loaded, with what is made of it once.
struct OpenShop {
  Shop shop;
  Overlay overlay;
  ShopClock clock;
  std::string text;     ///< the sheet's; empty where only its message came
  std::string message;  ///< the same as a serialized ShopSheet
};
Text text_of(const proto::SheetText& text);
Result<OpenShop> open_shop(const Text& sheet);

struct Worked {
  proto::Session message;  ///< what the ledger keeps
  Session session;
  ShopState state;
  Evening evening;
};

/// What the shop is like before the session, where the draft does not say.
struct Found {
  ShopState state;
  std::vector<PendingDuty> waiting;  ///< of earlier lists
};

/// Reads and checks the draft and its files, then plans. `found` holds where the draft brings no
/// state of its own. All mistakes of the first text or draft that has any: those of a
/// file carry its name, those of the draft itself only their path in it.
Result<Worked> work_out(const proto::PlanWindDown& draft, const OpenShop& open, const Found& found);

/// The list as the ledger keeps it: every duty, also those that the time given has no room for.
void put_owed(const Worked& worked, const OpenShop& open, proto::SessionEnded& ended);

}  // namespace chipfall
