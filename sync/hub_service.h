#pragma once

#include <cstdint>
#include <string>
#include <string_view>

/// Tells the service manager that started this program how it is: a datagram to the socket that
/// NOTIFY_SOCKET names. Where there is none, nothing is told.
/// Source: sd_notify(3), sd_watchdog_enabled(3).
namespace chipfall {

class ServiceManager {
 public:
  /// As the environment says.
  ServiceManager();

  /// "READY=1", "STOPPING=1" or "WATCHDOG=1". What cannot be told is not: the manager then sees it.
  void tell(std::string_view state) const;
  /// How often it wants to hear that the program lives; 0: not at all.
  std::int64_t watchdog_ms() const { return watchdog_ms_; }

 private:
  std::string socket_;
  std::int64_t watchdog_ms_ = 0;
};

}  // namespace chipfall
