#include "tests/tools/hub_load/pushing.h"

#include <fmt/format.h>

#include <algorithm>
#include <thread>

#include "tests/tools/hub_load/bare.h"
#include "tests/tools/hub_load/crowd.h"
#include "tests/tools/hub_load/hub_child.h"

namespace chipfall::load {

std::vector<Line> measure_push(int devices, int entries, const std::string& path) {
  const double alone = bare_rows_a_second(path + "/bare-1", 1, 1.0);
  const double hundreds = bare_rows_a_second(path + "/bare-100", 100, 2.0);
  std::vector<Device> all;
  std::size_t pushed_bytes = 0;
  for (int i = 0; i < devices; ++i) {
    all.push_back(device_with(entries, static_cast<std::uint32_t>(i)));
    for (const std::string& push : all.back().pushes) pushed_bytes += push.size();
  }
  const HubFolder folder = sure(HubFolder::open(path + "/push", true));
  Crowd crowd(std::move(all), folder);
  HubChild hub(folder);
  crowd.connect(hub.port());
  const auto began = Clock::now();
  crowd.push_all();
  const double took = seconds_since(began);
  const std::int64_t commits = hub.stop();
  std::vector<double> waited;
  for (const Device& device : crowd.devices()) {
    waited.insert(waited.end(), device.waited_ms.begin(), device.waited_ms.end());
  }
  std::sort(waited.begin(), waited.end());
  const double total = double(devices) * entries, rate = total / took;
  return {
      {fmt::format("{} devices push {} entries each, acknowledged when on disk", devices, entries),
       fmt::format("{:.0f}/s", rate), "limit 100,000/s", fmt::format("{:.2f}", rate / 1e5)},
      {"  bare SQLite, 100 a transaction; limit 0.3 of it", "", fmt::format("{:.0f}/s", hundreds),
       fmt::format("{:.2f}", rate / hundreds)},
      {"  bare SQLite, one a transaction", "", fmt::format("{:.0f}/s", alone),
       fmt::format("{:.0f}", rate / alone)},
      {"  entries in one commit", fmt::format("{:.0f}", total / double(commits)), "", ""},
      {"  a push waits, median and 99 of 100",
       fmt::format("{:.0f} ms, {:.0f} ms", waited[waited.size() / 2],
                   waited[waited.size() * 99 / 100]),
       "", ""},
      {"  bytes an entry on the wire", fmt::format("{:.1f}", double(pushed_bytes) / total),
       "limit 20", fmt::format("{:.2f}", double(pushed_bytes) / total / 20)},
  };
}

std::vector<Line> measure_idle(int connections, const std::string& path) {
  std::vector<Device> all;
  for (int i = 0; i < connections; ++i) all.push_back(device_with(0, 1));
  const HubFolder folder = sure(HubFolder::open(path + "/idle", true));
  Crowd crowd(std::move(all), folder);
  HubChild hub(folder);
  const std::int64_t before = hub.resident_bytes();
  crowd.connect(hub.port());
  std::this_thread::sleep_for(std::chrono::seconds(3));  // then the hub gives back what it can
  const std::int64_t after = hub.resident_bytes();
  hub.stop();
  const double each_kb = double(after - before) / connections / 1024;
  return {{fmt::format("an idle connection, of {}", connections), fmt::format("{:.1f} KB", each_kb),
           "limit 40 KB", fmt::format("{:.2f}", each_kb / 40)},
          {"  the whole hub then", fmt::format("{:.0f} MB", double(after) / 1e6), "", ""}};
}

}  // namespace chipfall::load
