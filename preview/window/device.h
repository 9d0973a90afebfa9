#pragma once

#include <atomic>
#include <condition_variable>
#include <cstdint>
#include <deque>
#include <functional>
#include <memory>
#include <mutex>
#include <thread>

#include "preview/terminal/door_client.h"

namespace chipfall::window {

/// One device's door, asked without making the drawing wait.
///
/// Asks are answered in their order, on a thread of its own or, for scripts and tests, at once;
/// what comes is given out by `deliver` on the thread that draws.
class Device {
 public:
  using Clock = std::function<std::int64_t()>;  ///< ms since 1970 in UTC
  using Then = std::function<void(const Result<proto::Response>&)>;
  enum class Pace { kBeside, kAtOnce };

  /// `wake` is called from the other thread when there is something to deliver; may be empty.
  static Result<std::unique_ptr<Device>> open(const std::string& folder, Clock clock, Pace pace,
                                              std::function<void()> wake = {});
  ~Device();
  Device(const Device&) = delete;
  Device& operator=(const Device&) = delete;

  void ask(proto::Request request, Then then);
  /// Gives out the answers that have come. True: there were some.
  bool deliver();
  bool busy() const { return waiting_ > 0; }

  /// Grows when another screen, program or device changed something; as of the last look, which is
  /// a second old at most.
  std::uint64_t changes();

  /// The clock that the door is shown stands this much beside the one given to `open`.
  void set_skew(std::int64_t ms) { *skew_ms_ = ms; }
  std::int64_t skew() const { return *skew_ms_; }
  /// Of that clock.
  std::int64_t now_ms() const { return clock_() + *skew_ms_; }
  const std::string& folder() const { return folder_; }

 private:
  struct Asked {
    proto::Request request;
    Then then;
  };
  struct Came {
    Result<proto::Response> answer;
    Then then;
  };
  Device() = default;
  Result<proto::Response> answer(const proto::Request& request);
  void work();

  DoorClient door_;
  Clock clock_;
  std::string folder_;
  std::shared_ptr<std::atomic<std::int64_t>> skew_ms_;
  std::function<void()> wake_;
  Pace pace_ = Pace::kAtOnce;
  int waiting_ = 0;  ///< of the drawing thread alone
  std::atomic<std::uint64_t> changes_{0};

  std::mutex lock_;
  std::condition_variable more_;
  std::deque<Asked> asked_;
  std::deque<Came> came_;
  bool stopping_ = false;
  std::thread thread_;
};

}  // namespace chipfall::window
