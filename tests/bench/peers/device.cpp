// Chipfall's side of the comparison with other libraries: a device with so many entries, and what
// it takes to hand them to a hub and to take them from there. Prints one line of JSON.
#include <fmt/format.h>
#include <google/protobuf/util/json_util.h>
#include <sys/resource.h>

#include <CLI/CLI.hpp>
#include <chrono>
#include <fstream>
#include <iostream>

#include "sync/device_state.h"
#include "sync/installation.h"
#include "sync/join_code.h"
#include "sync/link.h"
#include "tests/tools/hub_load/measured.h"
#include "tests/unit/ordinary_entries.h"

namespace chipfall {
namespace {

using load::sure;

long peak_kb() {
  rusage used{};
  ::getrusage(RUSAGE_SELF, &used);
  return used.ru_maxrss;
}

LedgerStore ledger_of(const std::string& path, const std::string& device) {
  LedgerOptions options;
  options.device = device;
  return sure(LedgerStore::open(path, options));
}

/// One transaction for each entry, as a phone records them.
void make(const std::string& path, std::size_t count, const std::string& json_path) {
  std::vector<proto::Entry> entries;
  OrdinaryEntries ordinary(1, true, 1);
  while (entries.size() < count) {
    for (proto::Entry& entry : ordinary.session()) {
      if (entries.size() < count) entries.push_back(std::move(entry));
    }
  }
  LedgerStore store = ledger_of(path, entries.front().device());
  const auto began = load::Clock::now();
  for (proto::Entry& entry : entries) sure(store.append(entry, entry.clock().wall_ms()));
  const double took = load::seconds_since(began);
  std::ofstream json(json_path, std::ios::binary);
  std::size_t encoded = 0;
  for (const proto::Entry& entry : entries) {
    std::string line;
    if (!google::protobuf::util::MessageToJsonString(entry, &line).ok()) {
      throw std::runtime_error("an entry is no JSON");
    }
    json << line << "\n";
    encoded += entry.ByteSizeLong();
  }
  if (!json.flush()) throw std::runtime_error(json_path + " cannot be written");
  fmt::print("{{\"seconds\": {:.4f}, \"entry_bytes\": {}, \"peak_kb\": {}}}\n", took, encoded,
             peak_kb());
}

void sync(const std::string& path, const std::string& text) {
  const auto code = sure(read_join_code(text));
  LedgerStore store = ledger_of(path, std::ifstream(path) ? std::string() : fresh_bytes(16));
  DeviceState state = sure(DeviceState::open(store, "", fresh_bytes));
  DeviceMachine machine(state, fresh_bytes);
  const auto began = load::Clock::now();
  sure(machine.join_with(code, "peer"));
  LinkOptions options;
  options.once = true;
  options.most_ms = 600'000;
  Link link(machine, {code.host, code.port, code.fingerprint}, options);
  if (sure(link.run()) != LinkEnd::kUpToDate) throw std::runtime_error(link.last_failure());
  fmt::print("{{\"seconds\": {:.4f}, \"entries\": {}, \"peak_kb\": {}}}\n",
             load::seconds_since(began), sure(store.counts()).entries, peak_kb());
}

}  // namespace
}  // namespace chipfall

int main(int argc, char** argv) {
  CLI::App app("A device of Chipfall, beside other libraries.", "peer_device");
  app.require_subcommand(1);
  std::string path, json, code;
  std::size_t count = 10'000;
  CLI::App* make = app.add_subcommand("make", "Record entries, and write them as JSON lines");
  make->add_option("ledger", path)->required();
  make->add_option("json", json)->required();
  make->add_option("--entries", count);
  CLI::App* sync = app.add_subcommand("sync", "Join with a code and do all there is to do");
  sync->add_option("ledger", path)->required();
  sync->add_option("code", code)->required();
  CLI11_PARSE(app, argc, argv);
  try {
    *make ? chipfall::make(path, count, json) : chipfall::sync(path, code);
  } catch (const std::exception& failure) {
    std::cerr << "peer_device: " << failure.what() << "\n";
    return 1;
  }
}
