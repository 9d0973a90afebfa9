#include <cmath>
#include <string>

#include <doctest/doctest.h>

#include "core/dust/removal.h"
#include "core/shop/load.h"
#include "core/shop/units.h"
#include "published.h"

namespace chipfall {
namespace {

using test::printed;
using test::within;

constexpr double kKgPerM3PerLbPerFt3 = kKilogramsPerPound / kCubicMetresPerCubicFoot;

double lb_per_ft3(double kg_per_m3) { return kg_per_m3 / kKgPerM3PerLbPerFt3; }

/// A pile's own specific gravity: mass over volume holds for loose wood as for solid.
double gravity_of(double dry_lb_per_ft3) { return dry_lb_per_ft3 * kKgPerM3PerLbPerFt3 / 1000; }

TEST_CASE("wood of specific gravity .40 at 12 % weighs 448 kg/m3") {
  // Wood Handbook, ch. 4 (read)
  CHECK(density_kg_per_m3(0.40, 12) == printed(448, 0));
  CHECK(lb_per_ft3(density_kg_per_m3(0.40, 12)) == printed(27.97, 2));
}

TEST_CASE("dry wood of specific gravity .561 weighs 35 lb/ft3") {
  // Record, Mechanical Properties of Wood (read): 35 lb/ft3 is .561, water being 62.43 lb/ft3.
  // Half a unit of .561 is 0.03 lb/ft3
  CHECK(std::abs(lb_per_ft3(density_kg_per_m3(0.561, 0)) - 35) <= 0.0005 * 62.43);
  CHECK(lb_per_ft3(density_kg_per_m3(1, 0)) == printed(62.43, 2));
}

TEST_CASE("the library's woods have the specific gravity of the Wood Handbook") {
  struct Row {
    std::string id;
    double gravity;
  };
  // Wood Handbook, Table 5-3, at 12 % (quoted)
  for (const Row& row : {Row{"cherry", .50},
                         {"red-oak", .63},
                         {"white-oak", .68},
                         {"sugar-maple", .63},
                         {"walnut", .55},
                         {"beech", .64},
                         {"yellow-birch", .62},
                         {"yellow-poplar", .42},
                         {"basswood", .37},
                         {"red-alder", .41},
                         {"white-ash", .60},
                         {"douglas-fir", .48},
                         {"ponderosa-pine", .40},
                         {"longleaf-pine", .59},
                         {"sitka-spruce", .36},
                         {"western-red-cedar", .32}}) {
    CAPTURE(row.id);
    const Stock* stock = builtin_library().stock(row.id);
    REQUIRE(stock != nullptr);
    CHECK(stock->specific_gravity == printed(row.gravity, 2));
    CHECK(density_kg_per_m3(*stock) == printed(1000 * row.gravity * 1.12, 0));
  }
}

TEST_CASE("the library's panels and imported woods weigh what the trade says") {
  struct Row {
    std::string id;
    double kg_per_m3;
  };
  // OSB 40 lb/ft3: Canadian Wood Council (quoted). Particleboard 43.5 lb/ft3: medium density
  // (quoted). Light plywood 515 kg/m3: poplar plywood (quoted). Iroko 660 kg/m3, African mahogany
  // 32 lb/ft3: trade tables, air-dry (read). MDF: usual 700 to 745 kg/m3 (quoted). Two figures of
  // specific gravity are exact to about 1 %.
  for (const Row& row : {Row{"osb", 40 * kKgPerM3PerLbPerFt3},
                         {"particleboard", 43.5 * kKgPerM3PerLbPerFt3},
                         {"hardwood-plywood", 515},
                         {"iroko", 660},
                         {"african-mahogany", 32 * kKgPerM3PerLbPerFt3}}) {
    CAPTURE(row.id);
    const Stock* stock = builtin_library().stock(row.id);
    REQUIRE(stock != nullptr);
    CHECK(density_kg_per_m3(*stock) == within(0.01, row.kg_per_m3));
  }
  const Stock* mdf = builtin_library().stock("mdf");
  REQUIRE(mdf != nullptr);
  CHECK(density_kg_per_m3(*mdf) >= 700);
  CHECK(density_kg_per_m3(*mdf) <= 745);
}

TEST_CASE("fresh sawdust weighs its dry weight and its water") {
  struct Row {
    double moisture_percent;
    double green_lb_per_ft3;
    double dry_lb_per_ft3;
  };
  // Thompson & Darwin, Forest Products Journal technical note, Table 1 (read): green ash, red oak,
  // sweetgum, yellow-poplar. The dry weights are printed to 0.1 lb/ft3, hence half of that, wet.
  for (const Row& row :
       {Row{49, 16.2, 10.9}, {77, 20.4, 11.5}, {103, 17.9, 8.8}, {109, 18.4, 8.8}}) {
    CAPTURE(row.moisture_percent);
    const double wet =
        lb_per_ft3(density_kg_per_m3(gravity_of(row.dry_lb_per_ft3), row.moisture_percent));
    CHECK(std::abs(wet - row.green_lb_per_ft3) <= 0.05 * (1 + row.moisture_percent / 100) + 0.05);
  }
}

TEST_CASE("chips by wet-basis moisture weigh what Briggs prints") {
  struct Row {
    double dry_lb_per_ft3;
    double wet_basis_percent;
    double wet_lb_per_ft3;
  };
  // Briggs 1994, wet-basis bulk densities (read): water over wet weight, so M = w/(1 - w)
  for (const Row& row : {Row{8.3, 47, 15.7}, {8.4, 22, 10.8}}) {
    CAPTURE(row.wet_basis_percent);
    const double w = row.wet_basis_percent / 100;
    CHECK(lb_per_ft3(density_kg_per_m3(gravity_of(row.dry_lb_per_ft3), 100 * w / (1 - w))) ==
          printed(row.wet_lb_per_ft3, 1));
  }
}

TEST_CASE("fine dust lies at a third of its solid density") {
  // Thompson & Darwin, loose over solid oven-dry density of fresh sawdust (read): .332 over eleven
  // species
  constexpr PerClass kOneGramFine{0, 0, 0, 1};
  CHECK(1 / (loose_volume_m3(kOneGramFine, 600) * 600 * 1000) == within(0.005, 0.332));
}

}  // namespace
}  // namespace chipfall
