#pragma once

#include <sys/types.h>

#include <cstdint>
#include <functional>
#include <string>

#include "sync/hub_folder.h"

namespace chipfall::load {

/// What `hub_load --serve FOLDER --tell FILE` does: serves until SIGTERM. Writes its port, and at
/// the end its number of commits, to the open file `to`.
void serve_for_parent(const std::string& path, int to);

/// A hub in a process of its own, so that its memory and its work are not the devices'.
class HubChild {
 public:
  explicit HubChild(const HubFolder& folder);
  HubChild(const HubChild&) = delete;
  HubChild& operator=(const HubChild&) = delete;
  ~HubChild();

  std::uint16_t port() const { return port_; }
  std::int64_t resident_bytes() const;
  double processor_seconds() const;
  /// Stops it; how many commits it made.
  std::int64_t stop();

 private:
  pid_t process_ = 0;
  int from_ = -1;
  std::uint16_t port_ = 0;
};

}  // namespace chipfall::load
