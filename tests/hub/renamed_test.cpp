#include <filesystem>
#include <thread>

#include "tests/hub/running_hub.h"

/// Two connections of one name: the hub serves the newer, by the name that each has now.
namespace chipfall {
namespace {

/// A phone whose link stays, on a thread of its own.
class LinkedPhone {
 public:
  LinkedPhone(const std::string& path, const HubAddress& address)
      : phone_(path), link_(phone_.machine(), address, options()) {
    thread_ = std::thread([this] { static_cast<void>(link_.run()); });
  }
  LinkedPhone(const LinkedPhone&) = delete;
  LinkedPhone& operator=(const LinkedPhone&) = delete;
  ~LinkedPhone() { leave(); }
  void leave() {
    link_.stop();
    if (thread_.joinable()) thread_.join();
  }
  bool up_to_date() const { return up_to_date_; }
  Phone& phone() { return phone_; }

 private:
  LinkOptions options() {
    LinkOptions options;
    options.changed = [this](const SyncProgress& progress) {
      up_to_date_ = progress.link == SyncProgress::Link::kUpToDate;
    };
    return options;
  }

  std::atomic<bool> up_to_date_{false};
  Phone phone_;
  Link link_;
  std::thread thread_;
};

std::int64_t replaced(const RunningHub& hub) {
  return hub.counts().refusals[proto::REFUSAL_REPLACED];
}

/// A phone that is up to date, and a copy of its file beside it.
void make_phone_and_copy(RunningHub& hub, const LedgerFolder& folder) {
  {
    Phone phone(folder.file("phone"));
    REQUIRE(phone.join(code_for(hub.folder(), hub.port())) == LinkEnd::kUpToDate);
    phone.write(3);
    REQUIRE(phone.sync(address_of(hub.folder(), hub.port())) == LinkEnd::kUpToDate);
  }
  std::filesystem::copy_file(folder.file("phone"), folder.file("copy"));
}

TEST_CASE("a device that connects a second time takes the place of its older connection") {
  const LedgerFolder folder;
  RunningHub hub(folder.file("hub"));
  make_phone_and_copy(hub, folder);
  const HubAddress address = address_of(hub.folder(), hub.port());
  LinkedPhone older(folder.file("phone"), address);
  REQUIRE(soon([&] { return older.up_to_date(); }));
  CHECK(replaced(hub) == 0);
  Phone newer(folder.file("copy"));
  CHECK(newer.sync(address) == LinkEnd::kUpToDate);
  CHECK(replaced(hub) == 1);
}

TEST_CASE("a device that took a new name is left alone when its double comes by the old one") {
  const LedgerFolder folder;
  RunningHub hub(folder.file("hub"));
  make_phone_and_copy(hub, folder);
  const HubAddress address = address_of(hub.folder(), hub.port());
  Phone first(folder.file("phone"));
  const std::string old_name = first.state().device();
  first.write(2, "of the first");
  REQUIRE(first.sync(address) == LinkEnd::kUpToDate);
  {
    Phone copy(folder.file("copy"));
    copy.write(2, "of the copy");
  }
  // Its entries are others by the same names, so it is given a name on the connection that stays.
  LinkedPhone copy(folder.file("copy"), address);
  REQUIRE(soon([&] { return copy.up_to_date(); }));
  CHECK(first.sync(address) == LinkEnd::kUpToDate);
  CHECK(replaced(hub) == 0);
  copy.leave();
  CHECK(copy.phone().state().device() != old_name);
  CHECK(first.state().device() == old_name);
}

}  // namespace
}  // namespace chipfall
