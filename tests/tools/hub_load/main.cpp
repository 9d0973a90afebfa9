// The hub's speed and memory on this machine and this disk, beside bare SQLite and bare TLS in the
// same run.
#include <fmt/format.h>

#include <CLI/CLI.hpp>
#include <algorithm>
#include <filesystem>
#include <iostream>

#include "tests/tools/hub_load/crowd.h"
#include "tests/tools/hub_load/hub_child.h"
#include "tests/tools/hub_load/pulling.h"
#include "tests/tools/hub_load/pushing.h"

namespace {

using chipfall::load::Line;

/// One descriptor each: the other ends are the hub's, in its own process, which inherits this.
void allow_connections(int connections) {
  const auto wanted = static_cast<std::uint64_t>(connections) + 100;
  const auto allowed = chipfall::load::allow_open_files(wanted);
  if (allowed >= wanted) return;
  throw std::runtime_error(
      fmt::format("only {} files may be open here; ask for fewer with --idle", allowed));
}

void print(const std::vector<Line>& lines) {
  for (const Line& line : lines) {
    fmt::print("{:<62} {:>15} {:>23} {:>7}\n", line.what, line.measured, line.beside, line.ratio);
  }
  std::fflush(stdout);
}

}  // namespace

int main(int argc, char** argv) {
  CLI::App app("Measures the hub on this disk.", "hub_load");
  int devices = 50, entries = 4'000, pulled = 100'000, idle = 1'000;
  std::string path = "hub-load";
  app.add_option("--devices", devices, "How many push at once")->check(CLI::Range(1, 5'000));
  app.add_option("--entries", entries, "How many each pushes; 0: none of this")
      ->check(CLI::Range(0, 1'000'000));
  app.add_option("--pull", pulled, "How many a fresh device pulls; 0: none of this")
      ->check(CLI::Range(0, 10'000'000));
  app.add_option("--idle", idle, "How many connect and say nothing; 0: none of this")
      ->check(CLI::Range(0, 5'000));
  app.add_option("--folder", path, "Where to write; on the disk that is to be measured");
  std::string serve;
  int tell = 1;
  app.add_option("--serve", serve)->group("");
  app.add_option("--tell", tell)->group("");
  CLI11_PARSE(app, argc, argv);
  try {
    if (!serve.empty()) {
      chipfall::load::serve_for_parent(serve, tell);
      return 0;
    }
    if (std::filesystem::exists(path)) throw std::runtime_error(path + " is there already");
    allow_connections(std::max(devices, idle));
    std::filesystem::create_directories(path);
    print({{"what", "measured", "beside", "ratio"}});
    if (entries > 0) print(chipfall::load::measure_push(devices, entries, path));
    if (pulled > 0) print(chipfall::load::measure_pull(pulled, path));
    if (idle > 0) print(chipfall::load::measure_idle(idle, path));
    std::filesystem::remove_all(path);
  } catch (const std::exception& failure) {
    std::cerr << "hub_load: " << failure.what() << "\n";
    return 1;
  }
}
