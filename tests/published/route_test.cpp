#include "core/crew/route.h"

#include <sstream>
#include <string>
#include <tuple>

#include <doctest/doctest.h>

using namespace chipfall;

// Sequential ordering instances of TSPLIB: walk from the first place to the last past all others,
// one way longer than the other, -1 at (i, j) where j must come before i. Instances of N. Ascheuer
// and L. Escudero, and br17.10; matrices (read) as reprinted with the public solver rod409/SOP,
// folder tsplib. Shortest lengths (quoted) in a table of best known values of a public comparison
// of solvers: ESC07 2125, ESC11 2075, ESC12 1675, br17.10 55, all proven.
namespace {

/// A way that the order of stops forbids: never walked, and long enough to be noticed.
constexpr double kForbidden = 1e7;

RouteProblem ordering_problem(const std::string& text, int places) {
  std::istringstream in(text);
  RouteProblem problem;
  problem.finish = places - 1;
  problem.minutes.assign(places, std::vector<double>(places, 0));
  for (int i = 0; i < places; ++i) {
    for (int j = 0; j < places; ++j) {
      double figure = 0;
      REQUIRE(static_cast<bool>(in >> figure));
      if (figure < 0) {
        problem.minutes[i][j] = kForbidden;
        if (j != 0 && i != places - 1) problem.before.emplace_back(j, i);
      } else {
        problem.minutes[i][j] = figure;
      }
    }
  }
  return problem;
}

constexpr const char* kEsc07 = R"(
 0 0 0 0 0 0 0 0 1000000
-1 0 100 200 75 0 300 100 0
-1 400 0 500 325 400 600 0 0
-1 700 800 0 550 700 900 800 0
-1 -1 250 225 0 275 525 250 0
-1 -1 100 200 -1 0 -1 -1 0
-1 -1 1100 1200 1075 1000 0 1100 0
-1 -1 0 500 325 400 600 0 0
-1 -1 -1 -1 -1 -1 -1 -1 0)";

constexpr const char* kEsc11 = R"(
 0 0 0 0 0 0 0 0 0 0 0 0 1000000
-1 0 387 440 682 657 584 688 708 362 357 927 0
-1 -1 0 10 935 439 127 769 498 836 341 956 0
-1 -1 -1 0 596 865 70 513 512 373 824 220 0
-1 319 277 439 0 428 212 412 771 620 651 605 0
-1 -1 -1 60 988 0 326 279 687 295 738 270 0
-1 312 158 704 881 696 0 277 413 396 268 156 0
-1 512 939 784 271 432 771 0 279 436 31 444 0
-1 875 927 364 629 419 788 923 0 858 761 139 0
-1 365 43 766 924 845 437 395 991 0 980 359 0
-1 978 839 918 822 885 276 96 537 211 0 608 0
-1 864 168 211 455 543 904 412 535 954 971 0 0
-1 -1 -1 -1 -1 -1 -1 -1 -1 -1 -1 -1 0)";

constexpr const char* kEsc12 = R"(
 0 0 0 0 0 0 0 0 0 0 0 0 0 1000000
-1 0 364 354 287 229 289 68 137 239 135 373 162 0
-1 364 0 276 352 143 88 395 222 457 332 202 217 0
-1 354 276 0 527 135 201 412 391 583 481 279 207 0
-1 287 352 527 0 377 407 285 138 310 200 525 325 0
-1 229 143 135 377 0 68 287 241 458 356 144 82 0
-1 -1 -1 -1 -1 68 0 347 277 512 387 132 142 0
-1 68 395 412 285 287 347 0 167 179 120 431 220 0
-1 137 222 391 138 241 277 167 0 229 104 395 187 0
-1 239 457 583 310 458 512 179 229 0 121 630 391 0
-1 135 332 481 200 356 387 120 104 121 0 505 289 0
-1 373 202 279 525 144 132 431 395 630 505 0 226 0
-1 -1 -1 -1 -1 82 -1 -1 -1 391 289 226 0 0
-1 -1 -1 -1 -1 -1 -1 -1 -1 -1 -1 -1 -1 0)";

constexpr const char* kBr17 = R"(
 0 0 0 0 0 0 0 0 0 0 0 0 0 0 0 0 0 0 0 1000000
-1 0 3 5 48 48 8 8 5 5 3 3 0 3 5 8 8 5 1000000 1000000
-1 -1 0 3 48 -1 -1 8 5 5 0 0 3 0 3 8 -1 5 3 0
-1 -1 3 0 72 -1 48 48 24 24 3 3 5 3 0 48 -1 24 5 0
-1 -1 48 74 0 0 6 6 12 -1 48 48 48 48 74 6 6 12 48 0
-1 -1 48 74 0 0 6 6 12 12 48 48 48 48 74 6 6 12 48 0
-1 -1 8 50 6 6 0 0 8 8 8 8 8 8 50 0 0 8 8 0
-1 -1 8 50 6 6 0 0 8 8 8 8 8 8 50 0 0 8 8 0
-1 -1 5 26 12 12 -1 8 0 0 5 5 5 -1 26 8 8 0 5 0
-1 -1 5 26 12 12 8 8 0 0 5 5 5 5 26 8 8 0 5 0
-1 -1 0 3 48 -1 8 8 5 5 0 0 3 0 3 8 8 5 3 0
-1 -1 0 3 48 48 8 8 5 5 0 0 3 0 3 8 8 5 3 0
-1 -1 3 5 48 48 8 8 5 5 3 3 0 3 5 8 8 5 0 0
-1 -1 0 3 48 48 -1 8 5 5 0 0 3 0 3 8 8 5 3 0
-1 -1 3 0 72 -1 48 48 24 24 3 3 5 3 0 48 48 24 5 0
-1 -1 8 50 6 6 -1 0 -1 8 8 8 8 -1 50 0 0 8 8 0
-1 -1 8 50 6 -1 0 0 8 8 8 8 8 8 50 0 0 8 8 0
-1 -1 5 26 12 12 8 8 0 0 5 5 5 5 26 8 8 0 5 0
-1 -1 -1 -1 -1 -1 -1 -1 -1 -1 -1 -1 -1 -1 -1 -1 -1 -1 0 0
-1 -1 -1 -1 -1 -1 -1 -1 -1 -1 -1 -1 -1 -1 -1 -1 -1 -1 -1 0)";

}  // namespace

TEST_CASE("routes of published ordering instances are as short as the published ones") {
  struct Instance {
    const char* text;
    int places;
    double minutes;  ///< of the shortest, as published
  };
  for (const Instance& known :
       {Instance{kEsc07, 9, 2125.0}, Instance{kEsc11, 13, 2075.0}, Instance{kEsc12, 14, 1675.0}}) {
    CAPTURE(known.places);
    const RouteProblem problem = ordering_problem(known.text, known.places);
    const Route route = shortest_route(problem);
    CHECK(route.proven);
    CHECK(route.minutes == known.minutes);
    CHECK(route_lower_bound(problem, 2 * known.minutes) <= known.minutes + 1e-6);
    CHECK(route_lower_bound(problem, 2 * known.minutes) > 0.8 * known.minutes);
  }
}

TEST_CASE("a published instance beyond the exact limit has its optimum between bound and route") {
  const Route route = shortest_route(ordering_problem(kBr17, 20));
  CHECK(route.minutes == 55);
  CHECK(!route.proven);
  CHECK(route.lower_bound_minutes <= 55);
  CHECK(route.lower_bound_minutes > 38.9);
}
