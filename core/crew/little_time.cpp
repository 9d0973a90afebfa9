#include "core/crew/little_time.h"

#include <fmt/format.h>

#include <algorithm>
#include <cassert>
#include <cmath>
#include <limits>
#include <numeric>

namespace chipfall {
namespace {

using Indices = std::vector<std::size_t>;

/// What rounding may do to sums of minutes or weights.
constexpr double kTiny = 1e-9;

/// From a duty to one that it needs.
struct Need {
  std::size_t later;
  std::size_t earlier;
};

/// Minutes of something that there is only so much of. Row 0 is the crew, then one for each tool;
/// rows beyond them follow from these and serve the bound.
struct Row {
  std::vector<double> use;  ///< by duty
  double room = 0;
  std::vector<double> moved;  ///< by need: weight lent to the earlier duty
};

struct Knapsack {
  std::vector<double> weight;
  std::vector<double> chain_minutes;  ///< a duty after all that it needs
  std::vector<Indices> brings;        ///< a duty and all that it needs, directly or not
  std::vector<Indices> falls_with;    ///< a duty and all that need it
  std::vector<Need> needs;
  std::vector<Row> rows;
  std::size_t limits = 0;  ///< the rows that must be kept to: crew and tools
};

enum class Choice : char { kOpen, kIn, kOut };

struct Branch {
  std::vector<Choice> choice;
  std::vector<double> room;  ///< left, by row
  double weight = 0;
};

bool open(const Branch& branch, std::size_t duty) { return branch.choice[duty] == Choice::kOpen; }

double density(double weight, double use) {
  if (use > 0) return weight / use;
  return weight > 0 ? std::numeric_limits<double>::infinity() : 0;
}

void gather(const std::vector<AskedDuty>& duties, std::size_t duty, Indices& found) {
  if (std::ranges::find(found, duty) != found.end()) return;
  found.push_back(duty);
  for (const std::size_t earlier : duties[duty].needs) {
    assert(earlier < duties.size());
    gather(duties, earlier, found);
  }
}

std::vector<double> chains(const std::vector<AskedDuty>& duties, const std::vector<Need>& needs) {
  std::vector<double> chain;
  for (const AskedDuty& duty : duties) chain.push_back(std::max(0.0, duty.minutes));
  const std::vector<double> own = chain;
  // Each round settles at least one more duty of every chain.
  for (std::size_t round = 0; round < duties.size(); ++round) {
    for (const Need& need : needs) {
      chain[need.later] = std::max(chain[need.later], chain[need.earlier] + own[need.later]);
    }
  }
  return chain;
}

/// Crew and tools together, each in shares of what there is: what fits both fits this.
Row joined(const Row& crew, const Row& tool) {
  Row both;
  for (std::size_t i = 0; i < crew.use.size(); ++i) {
    both.use.push_back(crew.use[i] / crew.room + tool.use[i] / tool.room);
  }
  both.room = 2;
  return both;
}

/// Lends weight along needs until neither side gains: a duty that is worth much lends to what it
/// needs until both weigh the same per minute. Any amount >= 0 gives a bound; this a close one.
void lend(const Knapsack& sack, Row& row) {
  constexpr int kSweeps = 50;
  row.moved.assign(sack.needs.size(), 0);
  std::vector<double> weight = sack.weight;
  for (int sweep = 0; sweep < kSweeps; ++sweep) {
    for (std::size_t i = 0; i < sack.needs.size(); ++i) {
      const auto [later, earlier] = sack.needs[i];
      const double use = row.use[later] + row.use[earlier];
      if (use <= 0) continue;
      const double even =
          (weight[later] * row.use[earlier] - weight[earlier] * row.use[later]) / use;
      const double change = std::max(even, -row.moved[i]);
      row.moved[i] += change;
      weight[earlier] += change;
      weight[later] -= change;
    }
  }
}

Knapsack knapsack(const std::vector<AskedDuty>& duties, const TimeLeft& left) {
  Knapsack sack;
  const int people = std::max(1, left.people);
  const double minutes = std::max(0.0, left.minutes);
  sack.limits = 1 + left.tools.size();
  sack.rows.resize(sack.limits);
  sack.rows[0].room = minutes * people;
  for (std::size_t i = 0; i < left.tools.size(); ++i) {
    sack.rows[1 + i].room = minutes * std::max(0, left.tools[i].count);
  }
  for (Row& row : sack.rows) row.use.resize(duties.size());
  sack.brings.resize(duties.size());
  sack.falls_with.resize(duties.size());
  for (std::size_t i = 0; i < duties.size(); ++i) {
    const AskedDuty& duty = duties[i];
    const double long_minutes = std::max(0.0, duty.minutes);
    sack.weight.push_back(std::max(0.0, duty.weight));
    sack.rows[0].use[i] = long_minutes * std::clamp(duty.people, 1, people);
    assert(duty.tool < static_cast<int>(left.tools.size()));
    if (duty.tool != kNoScarceTool) sack.rows[1 + duty.tool].use[i] = long_minutes;
    for (const std::size_t earlier : duty.needs) sack.needs.push_back({i, earlier});
    gather(duties, i, sack.brings[i]);
    for (const std::size_t earlier : sack.brings[i]) sack.falls_with[earlier].push_back(i);
  }
  sack.chain_minutes = chains(duties, sack.needs);
  return sack;
}

void take(const Knapsack& sack, std::size_t duty, Branch& branch) {
  for (const std::size_t brought : sack.brings[duty]) {
    if (!open(branch, brought)) continue;
    branch.choice[brought] = Choice::kIn;
    branch.weight += sack.weight[brought];
    for (std::size_t r = 0; r < sack.rows.size(); ++r) {
      branch.room[r] -= sack.rows[r].use[brought];
    }
  }
}

void leave(const Knapsack& sack, std::size_t duty, Branch& branch) {
  for (const std::size_t fallen : sack.falls_with[duty]) branch.choice[fallen] = Choice::kOut;
}

/// What a duty, with the open ones that it needs, uses of a row.
double use_with_needs(const Knapsack& sack, const Branch& branch, std::size_t duty,
                      std::size_t row) {
  double use = 0;
  for (const std::size_t brought : sack.brings[duty]) {
    if (open(branch, brought)) use += sack.rows[row].use[brought];
  }
  return use;
}

bool fits(const Knapsack& sack, const Branch& branch, std::size_t duty) {
  for (std::size_t r = 0; r < sack.limits; ++r) {
    const double use = use_with_needs(sack, branch, duty, r);
    if (use > 0 && use > branch.room[r] + kTiny) return false;
  }
  return true;
}

void leave_what_cannot_fit(const Knapsack& sack, Branch& branch) {
  for (std::size_t i = 0; i < branch.choice.size(); ++i) {
    if (open(branch, i) && !fits(sack, branch, i)) leave(sack, i, branch);
  }
}

/// Most weight per person-minute first, each with what it needs, until nothing more fits.
Branch greedy(const Knapsack& sack, Branch branch) {
  for (;;) {
    leave_what_cannot_fit(sack, branch);
    double most = -1;
    std::size_t next = branch.choice.size();
    for (std::size_t i = 0; i < branch.choice.size(); ++i) {
      if (!open(branch, i)) continue;
      double weight = 0;
      for (const std::size_t brought : sack.brings[i]) {
        if (open(branch, brought)) weight += sack.weight[brought];
      }
      const double worth = density(weight, use_with_needs(sack, branch, i, 0));
      if (worth > most) {
        most = worth;
        next = i;
      }
    }
    if (next == branch.choice.size()) return branch;
    take(sack, next, branch);
  }
}

/// Weights of the open duties after lending among them.
std::vector<double> lent_weights(const Knapsack& sack, const Row& row, const Branch& branch) {
  std::vector<double> weight = sack.weight;
  for (std::size_t i = 0; i < sack.needs.size(); ++i) {
    const auto [later, earlier] = sack.needs[i];
    if (!open(branch, later) || !open(branch, earlier)) continue;
    weight[earlier] += row.moved[i];
    weight[later] -= row.moved[i];
  }
  return weight;
}

/// The most that the open duties can weigh in a row's room when they may be split.
double split_weight(const Knapsack& sack, std::size_t r, const Branch& branch) {
  const Row& row = sack.rows[r];
  const std::vector<double> weight = lent_weights(sack, row, branch);
  Indices order;
  for (std::size_t i = 0; i < weight.size(); ++i) {
    if (open(branch, i) && weight[i] > 0) order.push_back(i);
  }
  std::ranges::sort(order, std::ranges::greater{},
                    [&](std::size_t i) { return density(weight[i], row.use[i]); });
  double room = std::max(0.0, branch.room[r]);
  double total = 0;
  for (const std::size_t i : order) {
    if (row.use[i] > room) return total + weight[i] * room / row.use[i];
    total += weight[i];
    room -= row.use[i];
  }
  return total;
}

double bound(const Knapsack& sack, const Branch& branch) {
  double least = std::numeric_limits<double>::infinity();
  for (std::size_t r = 0; r < sack.rows.size(); ++r) {
    least = std::min(least, split_weight(sack, r, branch));
  }
  return branch.weight + least;
}

struct Search {
  const Knapsack& sack;
  Indices order;  ///< in which duties are decided
  int nodes = 0;  ///< left
  Branch best;
  double unsearched = 0;  ///< the most that branches left aside may weigh

  void below(Branch branch) {
    leave_what_cannot_fit(sack, branch);
    if (branch.weight > best.weight + kTiny) best = branch;
    const auto next = std::ranges::find_if(order, [&](std::size_t i) { return open(branch, i); });
    if (next == order.end()) return;
    const double most = bound(sack, branch);
    if (most <= best.weight + kTiny * std::max(1.0, best.weight)) return;
    if (nodes <= 0) {
      unsearched = std::max(unsearched, most);
      return;
    }
    --nodes;
    Branch with = branch;
    take(sack, *next, with);
    below(std::move(with));
    leave(sack, *next, branch);
    below(std::move(branch));
  }
};

/// Most weight per minute first, after lending: what a good choice begins with.
Indices search_order(const Knapsack& sack, const Branch& root) {
  const std::vector<double> weight = lent_weights(sack, sack.rows[0], root);
  Indices order(sack.weight.size());
  std::iota(order.begin(), order.end(), std::size_t{0});
  std::ranges::stable_sort(order, std::ranges::greater{},
                           [&](std::size_t i) { return density(weight[i], sack.rows[0].use[i]); });
  return order;
}

/// How much longer than the time the duties kept so far are.
double over(const Knapsack& sack, const Branch& safety, const TimeLeft& left) {
  double over_minutes = -safety.room[0] / std::max(1, left.people);
  for (std::size_t i = 0; i < left.tools.size(); ++i) {
    over_minutes = std::max(over_minutes, -safety.room[1 + i] / std::max(1, left.tools[i].count));
  }
  for (std::size_t i = 0; i < safety.choice.size(); ++i) {
    if (open(safety, i)) continue;
    over_minutes = std::max(over_minutes, sack.chain_minutes[i] - std::max(0.0, left.minutes));
  }
  return over_minutes > kTiny ? over_minutes : 0;
}

std::string minutes_text(double minutes) {
  const long whole = std::max(1L, std::lround(minutes));
  return whole == 1 ? "1 minute" : fmt::format("{} minutes", whole);
}

/// Of a duty that may be done but for time, against those kept without having to be.
std::string against_kept(const Knapsack& sack, const Branch& safety, const Branch& best,
                         std::size_t duty) {
  const auto worth = [&](std::size_t i) { return density(sack.weight[i], sack.rows[0].use[i]); };
  bool any = false;
  bool least = true;
  for (std::size_t i = 0; i < best.choice.size(); ++i) {
    if (best.choice[i] != Choice::kIn || safety.choice[i] == Choice::kIn) continue;
    any = true;
    least = least && worth(duty) <= worth(i);
  }
  if (!any) return "what must be made safe comes first";
  return least ? "it weighs least per minute" : "the others weigh more together";
}

std::string reason(const std::vector<AskedDuty>& duties, const TimeLeft& left, const Knapsack& sack,
                   const Branch& safety, const Branch& best, std::size_t i) {
  const AskedDuty& duty = duties[i];
  const std::string long_text = minutes_text(duty.minutes);
  if (duty.minutes > left.minutes + kTiny) {
    return fmt::format("{} would be too long for the time there is", long_text);
  }
  for (const std::size_t earlier : duty.needs) {
    if (best.choice[earlier] != Choice::kIn) {
      return fmt::format("it needs \"{}\" first, and that is passed on", duties[earlier].title);
    }
  }
  if (sack.chain_minutes[i] > left.minutes + kTiny) {
    return fmt::format("with what it needs first, {} would be too long for the time there is",
                       minutes_text(sack.chain_minutes[i]));
  }
  const std::string why = against_kept(sack, safety, best, i);
  if (sack.rows[0].use[i] > best.room[0] + kTiny || duty.tool == kNoScarceTool) {
    const std::string together =
        duty.people > 1 ? fmt::format(" for {} people", duty.people) : std::string();
    return fmt::format("{}{} would not fit; {}", long_text, together, why);
  }
  const ScarceTool& tool = left.tools[duty.tool];
  if (tool.count <= 0) return fmt::format("no {} works", tool.name);
  return fmt::format("{} with the {} would not fit; {}", long_text, tool.name, why);
}

}  // namespace

KeptDuties keep_within(const std::vector<AskedDuty>& duties, const TimeLeft& left) {
  Knapsack sack = knapsack(duties, left);
  Branch safety{std::vector<Choice>(duties.size(), Choice::kOpen), {}, 0};
  for (const Row& row : sack.rows) safety.room.push_back(row.room);
  for (std::size_t i = 0; i < duties.size(); ++i) {
    if (duties[i].safety) take(sack, i, safety);
  }
  KeptDuties kept;
  kept.over_minutes = over(sack, safety, left);

  Branch root = safety;
  for (std::size_t i = 0; i < duties.size(); ++i) {
    if (open(root, i) && sack.chain_minutes[i] > left.minutes + kTiny) leave(sack, i, root);
  }
  for (std::size_t tool = 1; tool < sack.limits; ++tool) {
    if (root.room[0] <= kTiny || root.room[tool] <= kTiny) continue;
    sack.rows.push_back(
        joined({sack.rows[0].use, root.room[0], {}}, {sack.rows[tool].use, root.room[tool], {}}));
    root.room.push_back(sack.rows.back().room);
  }
  for (Row& row : sack.rows) lend(sack, row);

  Search search{sack, search_order(sack, root), left.search_nodes, greedy(sack, root)};
  search.below(root);
  // What weighs nothing is no branch's gain, but somebody may have time for it.
  Branch& best = search.best;
  for (std::size_t i = 0; i < duties.size(); ++i) {
    if (best.choice[i] != Choice::kIn) best.choice[i] = root.choice[i];
  }
  best = greedy(sack, std::move(best));

  for (std::size_t i = 0; i < duties.size(); ++i) {
    if (best.choice[i] == Choice::kIn) {
      kept.kept.push_back(i);
    } else {
      kept.passed_on.push_back({i, reason(duties, left, sack, safety, best, i)});
    }
  }
  kept.weight = best.weight;
  kept.exact = search.unsearched <= best.weight + kTiny * std::max(1.0, best.weight);
  kept.weight_bound = kept.exact ? kept.weight : search.unsearched;
  return kept;
}

}  // namespace chipfall
