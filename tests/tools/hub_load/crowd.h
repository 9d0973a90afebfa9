#pragma once

#include <cstdint>
#include <memory>
#include <string>
#include <vector>

#include "sync/hub_folder.h"

/// Many devices on one thread, which do no more than speak the protocol: they keep nothing.
namespace chipfall::load {

/// One device: its batches, and what it measured.
struct Device {
  std::string name, credential;
  std::vector<std::string> pushes;  // frames
  std::vector<std::size_t> entries;
  std::vector<double> waited_ms;
};

/// Sequences 1, 2, 3 ... of one device, in batches as large as allowed.
Device device_with(int entries, std::uint32_t seed);

/// Members of a hub's shops, each with its connection.
class Crowd {
 public:
  /// Makes the shops and writes the devices into them; no hub need serve yet.
  Crowd(std::vector<Device> devices, const HubFolder& folder, int shops = 1);
  ~Crowd();

  /// All at once; returns when each has proved itself. A failure of one is thrown.
  void connect(std::uint16_t port);
  /// Each pushes all it has and waits until the hub has it on disk.
  void push_all();
  const std::vector<Device>& devices() const;

 private:
  class Inside;
  std::unique_ptr<Inside> inside_;
};

/// Lets this process, and those it starts, have so many files open. How many it may have then.
std::uint64_t allow_open_files(std::uint64_t wanted);

}  // namespace chipfall::load
