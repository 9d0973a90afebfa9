#include "core/crew/route.h"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <numeric>

#include <doctest/doctest.h>

#include "core/shop/geometry.h"
#include "tests/unit/random_shop.h"

using namespace chipfall;
using namespace chipfall::test;

namespace {

/// Stops anywhere in a shop, or ways that are longer one way than the other; some of them ordered.
RouteProblem random_route(unsigned seed, int stops) {
  Dice dice(seed);
  RouteProblem problem;
  const bool crooked = dice.heads();
  std::vector<Point> at;
  for (int i = 0; i <= stops; ++i) at.push_back({dice.between(0, 15), dice.between(0, 11)});
  for (const Point& from : at) {
    std::vector<double>& row = problem.minutes.emplace_back();
    for (const Point& to : at) {
      row.push_back(crooked ? dice.between(0, 5) : distance(from, to));
    }
  }
  if (stops > 0 && dice.heads()) problem.finish = 1 + dice.upto(stops - 1);
  const int ordered = dice.heads() ? 0 : dice.upto(stops);
  for (int i = 0; i < ordered; ++i) {
    // Along some numbering there are no circles, and the finish comes last anyway.
    const int a = 1 + dice.upto(stops - 1);
    const int b = 1 + dice.upto(stops - 1);
    if (a == b || a == problem.finish || b == problem.finish) continue;
    problem.before.emplace_back(std::min(a, b), std::max(a, b));
  }
  return problem;
}

bool keeps_order(const RouteProblem& problem, const std::vector<int>& order) {
  std::vector<long> position(problem.minutes.size(), -1);
  for (size_t i = 0; i < order.size(); ++i) position[order[i]] = static_cast<long>(i);
  if (problem.finish && !order.empty() && order.back() != *problem.finish) return false;
  return std::ranges::all_of(problem.before, [&](const auto& pair) {
    return position[pair.first] < position[pair.second];
  });
}

bool each_stop_once(const RouteProblem& problem, std::vector<int> order) {
  std::vector<int> all(problem.minutes.size() - 1);
  std::iota(all.begin(), all.end(), 1);
  std::ranges::sort(order);
  return order == all;
}

/// Every order tried.
double shortest_by_hand(const RouteProblem& problem) {
  std::vector<int> order(problem.minutes.size() - 1);
  std::iota(order.begin(), order.end(), 1);
  double least = HUGE_VAL;
  do {
    if (keeps_order(problem, order)) {
      least = std::min(least, route_minutes(problem.minutes, order));
    }
  } while (std::next_permutation(order.begin(), order.end()));
  return least;
}

WalkMatrix between(const std::vector<Point>& at) {
  WalkMatrix minutes;
  for (const Point& from : at) {
    std::vector<double>& row = minutes.emplace_back();
    for (const Point& to : at) row.push_back(distance(from, to));
  }
  return minutes;
}

}  // namespace

TEST_CASE("up to the limit a route is the shortest of all orders, tried one by one") {
  for (unsigned seed = 0; seed < 1000; ++seed) {
    CAPTURE(seed);
    const RouteProblem problem = random_route(seed, static_cast<int>(seed % 7) + 1);
    const Route route = shortest_route(problem);
    CHECK(each_stop_once(problem, route.order));
    CHECK(keeps_order(problem, route.order));
    CHECK(route.minutes == doctest::Approx(shortest_by_hand(problem)));
    CHECK(route.minutes == doctest::Approx(route_minutes(problem.minutes, route.order)));
    CHECK(route.lower_bound_minutes == route.minutes);
    CHECK(route.proven);
  }
}

TEST_CASE("the bound lies below the shortest route, and often meets it") {
  int met = 0;
  double shares = 0;
  for (unsigned seed = 0; seed < 300; ++seed) {
    CAPTURE(seed);
    const RouteProblem problem = random_route(seed, 3 + static_cast<int>(seed % 10));
    const Route best = shortest_route(problem);
    REQUIRE(best.proven);
    // The bound is told of a worse route, so that knowing the best cannot help it.
    const double bound = route_lower_bound(problem, 1.3 * best.minutes + 1);
    CHECK(bound <= best.minutes + 1e-9);
    CHECK(bound >= 0);
    met += bound >= best.minutes - 1e-3 * (1 + best.minutes);
    shares += best.minutes > 0 ? bound / best.minutes : 1;
  }
  CHECK(met > 150);
  CHECK(shares / 300 > 0.95);
}

// With sanitizers, which take long over it, the first third of the same problems.
#ifdef CHIPFALL_SANITIZED
constexpr unsigned kLongRoutes = 20;
#else
constexpr unsigned kLongRoutes = 60;
#endif

TEST_CASE("beyond the limit a route keeps the order and is never longer than nearest-next") {
  double improved = 0;
  double above_bound = 0;
  int in_the_plane = 0;
  for (unsigned seed = 0; seed < kLongRoutes; ++seed) {
    CAPTURE(seed);
    const RouteProblem problem = random_route(seed, 14 + static_cast<int>(seed % 30));
    const Route route = shortest_route(problem);
    const std::vector<int> plain = nearest_next(problem);
    CHECK(each_stop_once(problem, route.order));
    CHECK(keeps_order(problem, route.order));
    CHECK(keeps_order(problem, plain));
    CHECK(route.minutes <= route_minutes(problem.minutes, plain) + 1e-9);
    CHECK(route.lower_bound_minutes <= route.minutes);
    CHECK(route.lower_bound_minutes > 0);
    improved += 1 - route.minutes / route_minutes(problem.minutes, plain);
    if (problem.minutes[0][1] != problem.minutes[1][0] || !problem.before.empty()) continue;
    ++in_the_plane;
    above_bound += route.minutes / route.lower_bound_minutes - 1;
  }
  CHECK(improved / kLongRoutes > 0.1);
  // The bound knows little of the order of stops; without one it is close.
  REQUIRE(in_the_plane > 0);
  CHECK(above_bound / in_the_plane < 0.05);
}

TEST_CASE("a dozen stops improved like many come close to the exact answer") {
  // One more stop, at the start and free, makes thirteen of twelve.
  double above = 0;
  for (unsigned seed = 0; seed < 40; ++seed) {
    CAPTURE(seed);
    RouteProblem problem = random_route(seed, 12);
    problem.finish.reset();
    const Route exact = shortest_route(problem);
    for (std::vector<double>& row : problem.minutes) row.push_back(row[0]);
    problem.minutes.push_back(problem.minutes[0]);
    for (std::vector<double>& row : problem.minutes) row[13] = row[0];
    problem.minutes[13][0] = problem.minutes[0][13] = problem.minutes[13][13] = 0;
    for (int stop = 1; stop <= 12; ++stop) problem.before.emplace_back(13, stop);
    const Route route = shortest_route(problem);
    CHECK(route.lower_bound_minutes <= exact.minutes + 1e-9);
    CHECK(route.minutes >= exact.minutes - 1e-9);
    above += route.minutes / exact.minutes - 1;
  }
  CHECK(above / 40 < 0.06);
}

TEST_CASE("round a regular polygon the shortest walk is all its sides but one") {
  for (int corners : {5, 12, 13, 24}) {
    CAPTURE(corners);
    std::vector<Point> at;
    // Not listed in the order of the walk.
    for (int i = 0; i < corners; ++i) {
      const int k = i * 7 % corners;
      at.push_back({std::cos(2 * std::numbers::pi * k / corners),
                    std::sin(2 * std::numbers::pi * k / corners)});
    }
    RouteProblem problem;
    problem.minutes = between(at);
    const double side = 2 * std::sin(std::numbers::pi / corners);
    CHECK(shortest_route(problem).minutes == doctest::Approx((corners - 1) * side));
  }
}

TEST_CASE("over a grid from its corner the shortest walk is one step for each stop") {
  std::vector<Point> at;
  for (int y = 0; y < 4; ++y) {
    for (int x = 0; x < 5; ++x) at.push_back({2.0 * x, 2.0 * y});
  }
  RouteProblem problem;
  problem.minutes = between(at);
  const Route route = shortest_route(problem);
  CHECK(route.lower_bound_minutes <= 38 + 1e-9);
  CHECK(route.lower_bound_minutes > 37.9);
  CHECK(route.minutes < 1.06 * 38);
}

TEST_CASE("past more stops than anybody walks there is still a route and a bound below it") {
  RouteProblem problem;
  std::vector<Point> at;
  for (int i = 0; i <= kMostBoundedByTrees; ++i) at.push_back({1.0 * (i * 37 % 251), 0});
  problem.minutes = between(at);
  problem.finish = 5;
  const Route route = shortest_route(problem);
  CHECK(each_stop_once(problem, route.order));
  CHECK(route.order.back() == 5);
  CHECK(route.minutes <= route_minutes(problem.minutes, nearest_next(problem)));
  CHECK(route.lower_bound_minutes <= route.minutes);
  CHECK(route.lower_bound_minutes == 250);  // one metre into each
}

TEST_CASE("no stop and one stop are routes") {
  CHECK(shortest_route({}).order.empty());
  CHECK(shortest_route({{{0}}, {}, {}}).minutes == 0);
  const Route one = shortest_route({{{0, 2}, {3, 0}}, 1, {}});
  CHECK(one.order == std::vector<int>{1});
  CHECK(one.minutes == 2);
}

TEST_CASE("the same stops give the same route") {
  const RouteProblem problem = random_route(5, 30);
  CHECK(shortest_route(problem).order == shortest_route(problem).order);
}
