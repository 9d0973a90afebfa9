#include "core/duty/taken.h"

#include <doctest/doctest.h>

#include <cmath>

using namespace chipfall;

TEST_CASE("a duty's minutes are those on the clock, to the half minute") {
  CHECK(taken_minutes(4.2, 5) == 4.0);
  CHECK(taken_minutes(4.3, 5) == 4.5);
  CHECK(taken_minutes(0.26, 0.5) == 0.5);
  CHECK(taken_minutes(15, 5) == 15.0);
}

TEST_CASE("duties ticked off one tap after the other took no such time") {
  CHECK_FALSE(taken_minutes(0, 1).has_value());
  CHECK_FALSE(taken_minutes(0.2, 1).has_value());
  CHECK_FALSE(taken_minutes(0.9, 10).has_value());
  CHECK(taken_minutes(1.1, 10).has_value());
}

TEST_CASE("a phone that was put away was not cleaning, nor one whose clock went back") {
  CHECK(taken_minutes(29, 1).has_value());
  CHECK_FALSE(taken_minutes(31, 1).has_value());
  CHECK(taken_minutes(90, 10).has_value());
  CHECK_FALSE(taken_minutes(-3, 5).has_value());
  CHECK_FALSE(taken_minutes(std::nan(""), 5).has_value());
}
