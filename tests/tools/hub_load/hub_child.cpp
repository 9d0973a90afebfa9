#include "tests/tools/hub_load/hub_child.h"

#include <signal.h>
#include <sys/wait.h>
#include <unistd.h>

#include <cstdio>
#include <fstream>
#include <sstream>

#include "sync/hub_server.h"
#include "sync/installation.h"
#include "tests/tools/hub_load/measured.h"

namespace chipfall::load {

namespace {

std::int64_t number_from(int file) {
  std::int64_t number = 0;
  if (::read(file, &number, sizeof number) == sizeof number) return number;
  throw std::runtime_error("the hub's process ended");
}

}  // namespace

void serve_for_parent(const std::string& path, int to) {
  const HubFolder folder = sure(HubFolder::open(path, false));
  HubJournal journal([](const std::string&) {}, [] { return moment_now().utc_ms; });
  HubServerOptions options;
  options.settings.bind = "127.0.0.1";
  options.settings.port = 0;
  options.settings.connections = kMostConnections;
  options.stop_on_signals = true;
  const auto hub = sure(HubServer::open(folder, options, journal));
  const std::int64_t port = hub->port();
  if (::write(to, &port, sizeof port) != sizeof port) return;
  hub->run();
  const std::int64_t commits = hub->counts().commits.load();
  if (::write(to, &commits, sizeof commits) != sizeof commits) return;
}

HubChild::HubChild(const HubFolder& folder) {
  int ends[2] = {};
  if (::pipe(ends) != 0) throw std::runtime_error("no pipe");
  std::fflush(nullptr);
  process_ = ::fork();
  if (process_ == 0) {
    // A new program: a mere fork would keep the devices' memory.
    ::close(ends[0]);
    std::string path = folder.path(), to = std::to_string(ends[1]), name = "hub_load",
                serve = "--serve", tell = "--tell";
    char* const words[] = {name.data(), serve.data(), path.data(), tell.data(), to.data(), nullptr};
    ::execv("/proc/self/exe", words);
    ::_exit(127);
  }
  ::close(ends[1]);
  from_ = ends[0];
  port_ = static_cast<std::uint16_t>(number_from(from_));
}

HubChild::~HubChild() {
  if (process_ > 0) {
    ::kill(process_, SIGKILL);
    ::waitpid(process_, nullptr, 0);
  }
  ::close(from_);
}

std::int64_t HubChild::stop() {
  ::kill(process_, SIGTERM);
  const std::int64_t commits = number_from(from_);
  ::waitpid(process_, nullptr, 0);
  process_ = 0;
  return commits;
}

std::int64_t HubChild::resident_bytes() const {
  std::ifstream statm("/proc/" + std::to_string(process_) + "/statm");
  std::int64_t pages = 0, resident = 0;
  statm >> pages >> resident;
  return resident * ::sysconf(_SC_PAGESIZE);
}

double HubChild::processor_seconds() const {
  std::ifstream stat("/proc/" + std::to_string(process_) + "/stat");
  std::string text;
  std::getline(stat, text);
  std::istringstream after(text.substr(text.rfind(')') + 1));
  std::string skipped;
  for (int field = 3; field < 14; ++field) after >> skipped;  // proc(5): 14 is utime, 15 stime
  double user = 0, system = 0;
  after >> user >> system;
  return (user + system) / static_cast<double>(::sysconf(_SC_CLK_TCK));
}

}  // namespace chipfall::load
