#include "core/crew/little_time.h"

#include <algorithm>
#include <random>
#include <set>

#include <doctest/doctest.h>

namespace chipfall {
namespace {

struct Case {
  std::vector<AskedDuty> duties;
  TimeLeft left;
};

AskedDuty duty(std::string title, double minutes, double weight) {
  AskedDuty made;
  made.title = std::move(title);
  made.minutes = minutes;
  made.weight = weight;
  return made;
}

/// Any evening: some safety duties, some heavy bags for two, needs that go back in the list.
Case random_case(std::mt19937_64& random, std::size_t duties) {
  const auto pick = [&](int least, int most) {
    return least + static_cast<int>(random() % static_cast<unsigned>(most - least + 1));
  };
  Case made;
  made.left.people = pick(1, 4);
  const int tools = pick(0, 2);
  for (int i = 0; i < tools; ++i) {
    made.left.tools.push_back({i == 0 ? "vac" : "broom", pick(i == 0 ? 0 : 1, 2)});
  }
  const int safety_in = pick(5, 60);  // one in so many
  const int needs_in = pick(2, 8);
  double total = 0;
  for (std::size_t i = 0; i < duties; ++i) {
    const int weight = pick(0, 40), half_minutes = pick(0, 24);
    AskedDuty one = duty("duty " + std::to_string(i), 0.5 * half_minutes, 0.1 * weight);
    if (pick(0, 9) == 0) one.people = 2;
    one.safety = pick(1, safety_in) == 1;
    if (tools > 0 && pick(0, 1) == 0) one.tool = pick(0, tools - 1);
    while (i > 0 && pick(1, needs_in) == 1) one.needs.push_back(random() % i);
    total += one.minutes * std::min(one.people, made.left.people);
    made.duties.push_back(one);
  }
  made.left.minutes = total / made.left.people * 0.1 * pick(1, 12);
  return made;
}

/// Of a subset, as the header defines a choice, and nothing of how the search sees it.
struct Subset {
  const Case& given;
  std::vector<bool> in;

  double crew_minutes() const {
    double minutes = 0;
    for (std::size_t i = 0; i < in.size(); ++i) {
      const AskedDuty& one = given.duties[i];
      if (in[i]) minutes += one.minutes * std::min(one.people, given.left.people);
    }
    return minutes;
  }
  double tool_minutes(int tool) const {
    double minutes = 0;
    for (std::size_t i = 0; i < in.size(); ++i) {
      if (in[i] && given.duties[i].tool == tool) minutes += given.duties[i].minutes;
    }
    return minutes;
  }
  double weight() const {
    double weight = 0;
    for (std::size_t i = 0; i < in.size(); ++i) weight += in[i] ? given.duties[i].weight : 0;
    return weight;
  }
  bool closed() const {
    for (std::size_t i = 0; i < in.size(); ++i) {
      for (const std::size_t earlier : given.duties[i].needs) {
        if (in[i] && !in[earlier]) return false;
      }
    }
    return true;
  }
};

double chain_minutes(const Case& given, std::size_t i) {
  double before = 0;
  for (const std::size_t earlier : given.duties[i].needs) {
    before = std::max(before, chain_minutes(given, earlier));
  }
  return before + given.duties[i].minutes;
}

Subset safety_of(const Case& given) {
  Subset safety{given, std::vector<bool>(given.duties.size())};
  for (std::size_t i = given.duties.size(); i-- > 0;) {
    if (given.duties[i].safety) safety.in[i] = true;
    if (!safety.in[i]) continue;
    for (const std::size_t earlier : given.duties[i].needs) safety.in[earlier] = true;
  }
  return safety;
}

constexpr double kRounding = 1e-6;

bool allowed(const Subset& subset, const Subset& safety) {
  if (!subset.closed()) return false;
  const Case& given = subset.given;
  const auto within = [](double use, double forced, double room) {
    return use <= std::max(room, forced) + kRounding;
  };
  const double minutes = given.left.minutes;
  if (!within(subset.crew_minutes(), safety.crew_minutes(), minutes * given.left.people)) {
    return false;
  }
  for (int tool = 0; tool < static_cast<int>(given.left.tools.size()); ++tool) {
    const double room = minutes * given.left.tools[static_cast<std::size_t>(tool)].count;
    if (!within(subset.tool_minutes(tool), safety.tool_minutes(tool), room)) return false;
  }
  for (std::size_t i = 0; i < subset.in.size(); ++i) {
    if (safety.in[i] && !subset.in[i]) return false;
    if (subset.in[i] && !safety.in[i] && chain_minutes(given, i) > minutes + kRounding) {
      return false;
    }
  }
  return true;
}

double heaviest(const Case& given) {
  const Subset safety = safety_of(given);
  double most = -1;
  for (unsigned bits = 0; bits < 1u << given.duties.size(); ++bits) {
    Subset subset{given, std::vector<bool>(given.duties.size())};
    for (std::size_t i = 0; i < subset.in.size(); ++i) subset.in[i] = (bits >> i & 1) != 0;
    if (subset.weight() > most && allowed(subset, safety)) most = subset.weight();
  }
  return most;
}

/// All that holds of every answer, exact or not.
void check_promises(const Case& given, const KeptDuties& answer) {
  Subset kept{given, std::vector<bool>(given.duties.size())};
  for (const std::size_t i : answer.kept) kept.in[i] = true;
  std::set<std::size_t> all(answer.kept.begin(), answer.kept.end());
  for (const PassedOn& passed : answer.passed_on) {
    CHECK(all.insert(passed.duty).second);
    CHECK_FALSE(passed.reason.empty());
  }
  CHECK(all.size() == given.duties.size());
  CHECK(std::ranges::is_sorted(answer.kept));
  CHECK(std::ranges::is_sorted(answer.passed_on, {}, &PassedOn::duty));
  CHECK(allowed(kept, safety_of(given)));
  CHECK(answer.weight == doctest::Approx(kept.weight()));
  CHECK(answer.weight_bound >= answer.weight);
  if (answer.exact) CHECK(answer.weight_bound == answer.weight);
}

TEST_CASE("500 small evenings keep what exhaustive search keeps") {
  std::mt19937_64 random(500);
  for (int i = 0; i < 500; ++i) {
    CAPTURE(i);
    const Case given = random_case(random, 1 + static_cast<std::size_t>(i) % 13);
    const KeptDuties answer = keep_within(given.duties, given.left);
    check_promises(given, answer);
    CHECK(answer.exact);
    CHECK(answer.weight == doctest::Approx(heaviest(given)));
  }
}

TEST_CASE("without a search the greedy choice keeps its promises and its bound holds") {
  std::mt19937_64 random(501);
  double greedy = 0;
  double best = 0;
  for (int i = 0; i < 300; ++i) {
    CAPTURE(i);
    Case given = random_case(random, 2 + static_cast<std::size_t>(i) % 10);
    given.left.search_nodes = i % 3;
    const KeptDuties answer = keep_within(given.duties, given.left);
    check_promises(given, answer);
    const double most = heaviest(given);
    CHECK(answer.weight_bound >= most - kRounding);
    if (answer.exact) CHECK(answer.weight == doctest::Approx(most));
    greedy += answer.weight;
    best += most;
  }
  MESSAGE("greedy keeps " << greedy / best << " of the best choice's weight");
  CHECK(greedy > 0.95 * best);
}

TEST_CASE("evenings of forty duties are solved within the budget, nearly all to proof") {
  std::mt19937_64 random(502);
  int exact = 0;
  for (int i = 0; i < 100; ++i) {
    CAPTURE(i);
    const Case given = random_case(random, 40);
    const KeptDuties answer = keep_within(given.duties, given.left);
    check_promises(given, answer);
    exact += answer.exact ? 1 : 0;
    CHECK(answer.weight_bound <= 1.02 * answer.weight + kRounding);
  }
  MESSAGE("proved " << exact << " of 100");
  CHECK(exact >= 95);
}

TEST_CASE("the same question gets the same answer") {
  std::mt19937_64 random(503);
  const Case given = random_case(random, 40);
  const KeptDuties first = keep_within(given.duties, given.left);
  const KeptDuties again = keep_within(given.duties, given.left);
  CHECK(first.kept == again.kept);
  CHECK(first.weight == again.weight);
  for (std::size_t i = 0; i < first.passed_on.size(); ++i) {
    CHECK(first.passed_on[i].reason == again.passed_on[i].reason);
  }
}

TEST_CASE("with time for everything, everything is kept, also what weighs nothing") {
  std::vector<AskedDuty> duties{duty("bench", 5, 3), duty("shelf", 5, 0), duty("floor", 10, 2)};
  const KeptDuties answer = keep_within(duties, {10, 2, {}});
  CHECK(answer.kept == std::vector<std::size_t>{0, 1, 2});
  CHECK(answer.passed_on.empty());
  CHECK(answer.exact);
}

TEST_CASE("safety and what it needs stay, though they weigh nothing and take all the time") {
  std::vector<AskedDuty> duties{duty("floor", 5, 9), duty("open the lid", 4, 0),
                                duty("oily rags", 6, 0)};
  duties[2].safety = true;
  duties[2].needs = {1};
  const KeptDuties answer = keep_within(duties, {10, 1, {}});
  CHECK(answer.kept == std::vector<std::size_t>{1, 2});
  CHECK(answer.over_minutes == 0);
  REQUIRE(answer.passed_on.size() == 1);
  CHECK(answer.passed_on[0].reason ==
        "5 minutes would not fit; what must be made safe comes first");
}

TEST_CASE("safety that is longer than the time says by how much") {
  std::vector<AskedDuty> duties{duty("rags", 8, 0), duty("embers", 8, 0), duty("floor", 5, 9)};
  duties[0].safety = duties[1].safety = true;
  CHECK(keep_within(duties, {10, 1, {}}).over_minutes == doctest::Approx(6));
  CHECK(keep_within(duties, {10, 2, {}}).over_minutes == 0);
  CHECK(keep_within(duties, {5, 2, {}}).over_minutes == doctest::Approx(3));  // 8 on the clock
  CHECK(keep_within(duties, {10, 1, {}}).kept == std::vector<std::size_t>{0, 1});
  duties[1].needs = {0};
  CHECK(keep_within(duties, {10, 2, {}}).over_minutes == doctest::Approx(6));  // one after another
  duties[1].needs = {};
  duties[0].tool = duties[1].tool = 0;
  CHECK(keep_within(duties, {10, 2, {{"vac", 1}}}).over_minutes == doctest::Approx(6));
}

TEST_CASE("the heaviest together beat the heaviest for their minutes") {
  // By weight per minute: the bench (1.1) first, and then neither floor (1.0) fits.
  std::vector<AskedDuty> duties{duty("bench", 6, 6.6), duty("north floor", 5, 5),
                                duty("south floor", 5, 5)};
  const KeptDuties answer = keep_within(duties, {10, 1, {}});
  CHECK(answer.kept == std::vector<std::size_t>{1, 2});
  CHECK(answer.passed_on[0].reason == "6 minutes would not fit; the others weigh more together");
}

TEST_CASE("what weighs least per minute is passed on, and says so") {
  std::vector<AskedDuty> duties{duty("bench", 6, 6), duty("common dust", 8, 1), duty("saw", 4, 5)};
  const KeptDuties answer = keep_within(duties, {10, 1, {}});
  CHECK(answer.kept == std::vector<std::size_t>{0, 2});
  CHECK(answer.passed_on[0].reason == "8 minutes would not fit; it weighs least per minute");
}

TEST_CASE("a duty is passed on with what it needs") {
  std::vector<AskedDuty> duties{duty("empty the vac", 8, 0), duty("vacuum the saw", 4, 5),
                                duty("sweep", 10, 9)};
  duties[1].needs = {0};
  const KeptDuties answer = keep_within(duties, {12, 1, {}});
  CHECK(answer.kept == std::vector<std::size_t>{2});
  CHECK(answer.passed_on[1].reason == "it needs \"empty the vac\" first, and that is passed on");
}

TEST_CASE("one vac is shared, though there are hands enough") {
  std::vector<AskedDuty> duties{duty("bench", 6, 6), duty("saw", 6, 5), duty("floor", 6, 1)};
  duties[0].tool = duties[1].tool = 0;
  const KeptDuties answer = keep_within(duties, {10, 3, {{"vac", 1}}});
  CHECK(answer.kept == std::vector<std::size_t>{0, 2});
  CHECK(answer.passed_on[0].reason ==
        "6 minutes with the vac would not fit; the others weigh more together");
  CHECK(keep_within(duties, {10, 3, {{"vac", 2}}}).kept.size() == 3);
  CHECK(keep_within(duties, {10, 3, {{"vac", 0}}}).passed_on[0].reason == "no vac works");
}

TEST_CASE("what is longer than the time on the clock is no matter of hands") {
  std::vector<AskedDuty> duties{duty("drum", 12, 6), duty("grease", 1, 5), duty("bearing", 9.5, 5)};
  duties[2].needs = {1};
  const KeptDuties answer = keep_within(duties, {10, 5, {}});
  CHECK(answer.kept == std::vector<std::size_t>{1});
  CHECK(answer.passed_on[0].reason == "12 minutes would be too long for the time there is");
  CHECK(answer.passed_on[1].reason ==
        "with what it needs first, 11 minutes would be too long for the time there is");
}

TEST_CASE("nothing to do and no time are answered too") {
  CHECK(keep_within({}, {10, 2, {}}).kept.empty());
  CHECK(keep_within({}, {10, 2, {}}).exact);
  const KeptDuties none = keep_within({duty("floor", 5, 1)}, {0, 2, {}});
  CHECK(none.kept.empty());
  CHECK(none.passed_on.size() == 1);
  CHECK(none.over_minutes == 0);
}

}  // namespace
}  // namespace chipfall
