#include "tests/faults/promises.h"

#include <fmt/format.h>

#include <algorithm>
#include <cstdio>

namespace chipfall {

std::optional<BatchPlace> read_tag(const std::string& tag) {
  BatchPlace read;
  if (std::sscanf(tag.c_str(), "%d/%d/%d", &read.batch, &read.place, &read.size) != 3) return {};
  return read;
}

std::string make_tag(const BatchPlace& place) {
  return fmt::format("{}/{}/{}", place.batch, place.place, place.size);
}

int Promises::begin_batch(int entries) {
  const int batch = static_cast<int>(batches_.size()) + 1;
  batches_[batch] = entries;
  return batch;
}

std::string Promises::tag(int batch, int place) const {
  return make_tag({batch, place, batches_.at(batch)});
}

void Promises::allow_batches(int last) { last_allowed_ = last; }

void Promises::saved(std::span<const std::string> entries) {
  for (const std::string& bytes : entries) {
    proto::Entry entry;
    (void)entry.ParseFromString(bytes);
    saved_[{entry.device(), entry.sequence()}] = bytes;
    if (entry.device() == device_) {
      clock_ = std::max(clock_, {entry.clock().wall_ms(), entry.clock().counter()});
    }
  }
}

std::vector<std::string> Promises::broken(LedgerStore& store) {
  std::vector<std::string> wrong;
  std::map<Name, std::string> there;
  std::map<Name, std::int64_t> arrivals;
  std::map<int, std::multiset<int>> places;
  std::int64_t own = 0;
  std::int64_t last_arrival = 0;
  HybridTime latest_own;

  const auto read = store.visit_arrivals(0, [&](const StoredEntry& stored) {
    const Name name{stored.order.device, stored.order.sequence};
    const auto shown = fmt::format("entry {}/{}", name.first, name.second);
    if (stored.arrival != ++last_arrival) {
      wrong.push_back(fmt::format("{} arrived as {}, not {}", shown, stored.arrival, last_arrival));
    }
    proto::Entry entry;
    const bool parsed = entry.ParseFromArray(stored.bytes.data(), int(stored.bytes.size()));
    const auto place = parsed ? read_tag(entry.member()) : std::nullopt;
    if (!place) {
      wrong.push_back(shown + " is none that was made");
      return true;
    }
    places[place->batch].insert(place->place);
    const auto known = batches_.find(place->batch);
    const bool made = known != batches_.end() ? known->second == place->size
                                              : last_allowed_ && place->batch <= *last_allowed_;
    if (!made || place->place < 0 || place->place >= place->size) {
      wrong.push_back(fmt::format("{} says {}, which nobody made", shown, entry.member()));
    }
    if (known == batches_.end()) batches_[place->batch] = place->size;
    if (!there.emplace(name, stored.bytes).second) wrong.push_back(shown + " is there twice");
    arrivals[name] = stored.arrival;
    if (name.first == device_) {
      ++own;
      latest_own = std::max(latest_own, stored.order.clock);
    }
    return true;
  });
  if (!read) wrong.push_back("cannot be read by arrival: " + read.error().text());

  for (const auto& [name, bytes] : saved_) {
    const auto found = there.find(name);
    if (found == there.end()) {
      wrong.push_back(fmt::format("entry {}/{} is lost", name.first, name.second));
    } else if (found->second != bytes) {
      wrong.push_back(fmt::format("entry {}/{} has other bytes", name.first, name.second));
    }
    const auto before = arrivals_.find(name);
    if (before != arrivals_.end() && found != there.end() && arrivals[name] != before->second) {
      wrong.push_back(fmt::format("entry {}/{} has moved", name.first, name.second));
    }
  }
  for (const auto& [batch, found] : places) {
    const auto size = static_cast<std::size_t>(batches_[batch]);
    if (found.size() != size || std::set<int>(found.begin(), found.end()).size() != size) {
      wrong.push_back(fmt::format("call {} is there by {} of {}", batch, found.size(), size));
    }
  }

  std::size_t in_order = 0;
  std::optional<EntryOrder> previous;
  const auto visited = store.visit([&](const StoredEntry& stored) {
    if (previous && !(*previous < stored.order)) wrong.push_back("the order of visits is broken");
    previous = stored.order;
    ++in_order;
    return true;
  });
  if (!visited) wrong.push_back("cannot be read in order: " + visited.error().text());
  if (in_order != there.size()) wrong.push_back("the two ways to read differ");

  const auto highest = store.highest_sequences();
  const auto last = highest ? highest->find(device_) : decltype(highest->find(device_)){};
  if (!highest) {
    wrong.push_back("no sequence numbers: " + highest.error().text());
  } else if ((last == highest->end() ? 0 : last->second) != static_cast<std::uint64_t>(own)) {
    wrong.push_back("own sequence numbers have gaps");
  }
  if (store.clock() < std::max(latest_own, clock_)) wrong.push_back("the clock ran backwards");
  const auto epoch = store.epoch();
  if (!epoch || !epochs_.contains(*epoch)) wrong.push_back("the epoch is none that was set");
  const auto sound = store.check();
  if (!sound) wrong.push_back("not sound: " + sound.error().text());

  if (wrong.empty()) {
    found_unreported_ += static_cast<std::int64_t>(there.size() - saved_.size());
    clock_ = store.clock();
    epochs_ = {*epoch};
    saved_ = std::move(there);
    arrivals_ = std::move(arrivals);
  }
  return wrong;
}

}  // namespace chipfall
