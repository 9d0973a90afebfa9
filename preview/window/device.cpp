#include "preview/window/device.h"

#include <chrono>
#include <exception>

namespace chipfall::window {
namespace {

constexpr std::chrono::seconds kLook{1};  ///< how often the door is asked for changes

}  // namespace

Result<std::unique_ptr<Device>> Device::open(const std::string& folder, Clock clock, Pace pace,
                                             std::function<void()> wake) {
  std::unique_ptr<Device> device(new Device());
  device->skew_ms_ = std::make_shared<std::atomic<std::int64_t>>(0);
  Result<DoorClient> door = DoorClient::open(
      folder, false, [clock, skew = device->skew_ms_] { return clock() + skew->load(); });
  if (!door) return tl::unexpected(door.error());
  device->door_ = *std::move(door);
  device->clock_ = std::move(clock);
  device->folder_ = folder;
  device->wake_ = std::move(wake);
  device->pace_ = pace;
  device->changes_ = device->door_.changes();
  if (pace == Pace::kBeside) device->thread_ = std::thread([raw = device.get()] { raw->work(); });
  return device;
}

Device::~Device() {
  if (!thread_.joinable()) return;
  {
    const std::lock_guard held(lock_);
    stopping_ = true;
  }
  more_.notify_one();
  thread_.join();
}

/// What the door's client throws are defects and want of memory; a screen says so and goes on.
Result<proto::Response> Device::answer(const proto::Request& request) {
  try {
    return door_.ask(request);
  } catch (const std::exception& failed) {
    return tl::unexpected(Errors{{ErrorCode::kUnreadable, failed.what(), {}}});
  }
}

void Device::ask(proto::Request request, Then then) {
  ++waiting_;
  if (pace_ == Pace::kAtOnce) {
    Result<proto::Response> came = answer(request);
    came_.push_back({std::move(came), std::move(then)});
    return;
  }
  {
    const std::lock_guard held(lock_);
    asked_.push_back({std::move(request), std::move(then)});
  }
  more_.notify_one();
}

bool Device::deliver() {
  std::deque<Came> came;
  {
    const std::lock_guard held(lock_);
    came.swap(came_);
  }
  for (Came& one : came) {
    --waiting_;
    one.then(one.answer);
  }
  return !came.empty();
}

std::uint64_t Device::changes() {
  if (pace_ == Pace::kAtOnce) changes_ = door_.changes();
  return changes_;
}

void Device::work() {
  std::unique_lock held(lock_);
  while (!stopping_) {
    if (asked_.empty()) {
      more_.wait_for(held, kLook, [this] { return stopping_ || !asked_.empty(); });
    }
    if (stopping_) return;
    if (asked_.empty()) {
      held.unlock();
      const std::uint64_t now = door_.changes();
      if (changes_.exchange(now) != now && wake_) wake_();
      held.lock();
      continue;
    }
    Asked next = std::move(asked_.front());
    asked_.pop_front();
    held.unlock();
    Result<proto::Response> came = answer(next.request);
    changes_ = door_.changes();
    held.lock();
    came_.push_back({std::move(came), std::move(next.then)});
    if (wake_) wake_();
  }
}

}  // namespace chipfall::window
