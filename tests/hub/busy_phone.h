#pragma once

#include <atomic>
#include <thread>

#include "tests/hub/running_hub.h"

namespace chipfall {

/// A device that writes and sends on a thread until told to stop, and knows what was acknowledged.
class BusyPhone {
 public:
  BusyPhone(const std::string& path, HubAddress address)
      : phone_(path), address_(std::move(address)) {}
  ~BusyPhone() { stop(); }
  Phone& phone() { return phone_; }
  void start() {
    thread_ = std::thread([this] {
      while (!stopping_) {
        phone_.write(50);
        phone_.sync(address_, nullptr, 2'000);
      }
    });
  }
  void stop() {
    stopping_ = true;
    if (thread_.joinable()) thread_.join();
  }

 private:
  Phone phone_;
  HubAddress address_;
  std::atomic<bool> stopping_{false};
  std::thread thread_;
};

}  // namespace chipfall
