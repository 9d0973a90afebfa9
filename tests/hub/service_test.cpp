#include <sys/socket.h>
#include <sys/un.h>

#include "tests/hub/hub_process.h"

/// The hub under a service manager.
namespace chipfall {
namespace {

/// The manager's end of NOTIFY_SOCKET.
class Manager {
 public:
  explicit Manager(const std::string& path) : socket_(::socket(AF_UNIX, SOCK_DGRAM, 0)) {
    sockaddr_un address{};
    address.sun_family = AF_UNIX;
    path.copy(address.sun_path, sizeof address.sun_path - 1);
    if (path.starts_with('@')) address.sun_path[0] = '\0';
    const auto size = static_cast<socklen_t>(offsetof(sockaddr_un, sun_path) + path.size());
    REQUIRE(::bind(socket_, reinterpret_cast<const sockaddr*>(&address), size) == 0);
    const timeval most{5, 0};
    ::setsockopt(socket_, SOL_SOCKET, SO_RCVTIMEO, &most, sizeof most);
  }
  Manager(const Manager&) = delete;
  Manager& operator=(const Manager&) = delete;
  ~Manager() { ::close(socket_); }
  /// The next that it is told; empty after 5 s.
  std::string next() {
    char told[256];
    const auto size = ::recv(socket_, told, sizeof told, 0);
    return size > 0 ? std::string(told, static_cast<std::size_t>(size)) : std::string();
  }

 private:
  int socket_;
};

TEST_CASE("the service manager hears when a hub serves, that it lives, and when it stops") {
  const LedgerFolder folder;
  for (const std::string& name :
       {folder.file("notify"), "@chipfall-" + std::to_string(::getpid())}) {
    Manager manager(name);
    ::setenv("NOTIFY_SOCKET", name.c_str(), 1);
    ::setenv("WATCHDOG_USEC", "150000", 1);
    Process hub(serve_words(folder.file("hub")), folder.file("log"));
    ::unsetenv("NOTIFY_SOCKET");
    ::unsetenv("WATCHDOG_USEC");
    CHECK(manager.next() == "READY=1");
    CHECK(port_of(folder.file("hub")) != 0);
    for (int i = 0; i < 3; ++i) CHECK(manager.next() == "WATCHDOG=1");
    CHECK(hub.end(SIGTERM) == 0);
    std::string last = manager.next();
    while (last == "WATCHDOG=1") last = manager.next();
    CHECK(last == "STOPPING=1");
  }
}

TEST_CASE("the service unit leaves the hub little that it could do harm with") {
  const LedgerFolder folder;
  const auto probe = run_words({"systemd-analyze", "security", "--help"}, folder);
  if (probe.exit != 0 || !has(probe.text, "--offline")) {
    MESSAGE("not tried: there is no systemd-analyze here that judges a unit's file");
    return;
  }
  const std::string unit = CHIPFALL_SOURCE_DIR "/sync/chipfall-hub.service";
  const auto judged = run_words(
      {"systemd-analyze", "security", "--no-pager", "--offline=true", "--threshold=20", unit},
      folder);
  CHECK_MESSAGE(judged.exit == 0, judged.text);  // an exposure over 2.0 fails
}

}  // namespace
}  // namespace chipfall
