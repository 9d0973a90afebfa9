#include <string>

#include <doctest/doctest.h>

#include "core/dust/removal.h"
#include "core/shop/load.h"
#include "published.h"

namespace chipfall {
namespace {

const MachineKind& kind(const std::string& id) {
  const MachineKind* found = builtin_library().machine_kind(id);
  REQUIRE(found != nullptr);
  return *found;
}

/// Share of fine dust, below 0.1 mm, in what the kind makes of the stock.
double fine_share(const std::string& kind_id, const std::string& stock_id) {
  const Stock* stock = builtin_library().stock(stock_id);
  REQUIRE(stock != nullptr);
  const PerClass grams = removal_g(kind(kind_id), *stock, 10);
  return grams[kFine] / sum(grams);
}

TEST_CASE("narrow-belt and hand-held sanders make nine tenths fine dust") {
  // BioResources 13(4) (2018) 7481, beech and oak (read in the abstract): over 90 % at or below
  // 0.080 mm in all cases
  for (const std::string sander :
       {"belt-sander", "disc-sander", "spindle-sander", "random-orbital-sander"}) {
    CAPTURE(sander);
    CHECK(fine_share(sander, "beech") > 0.90);
    CHECK(fine_share(sander, "red-oak") > 0.90);
  }
}

TEST_CASE("sanded MDF is over 95 % fine dust") {
  // J. Wood Sci. 2020, doi:10.1186/s10086-020-01896-x (read in the abstract): over 95 % below 0.1
  // mm
  for (const std::string sander : {"belt-sander", "disc-sander", "random-orbital-sander"}) {
    CAPTURE(sander);
    CHECK(fine_share(sander, "mdf") > 0.95);
  }
}

TEST_CASE("finish-milled board is about two fifths fine dust") {
  // sciencerep.up.poznan.pl, 2024 (read in the abstract), below 0.125 mm: MDF 34.7 to 40.8 %,
  // particleboard 38.1 to 54.7 %
  CHECK(fine_share("cnc-router", "mdf") >= 0.347);
  CHECK(fine_share("cnc-router", "mdf") <= 0.408);
  CHECK(fine_share("cnc-router", "particleboard") >= 0.381);
  CHECK(fine_share("cnc-router", "particleboard") <= 0.547);
}

TEST_CASE("planing beech makes less than 1 % fine dust") {
  // BioResources 9(1) (2014) 1346 (read in the abstract): below 0.125 mm less than 1 %
  for (const std::string planer : {"jointer", "thickness-planer", "hand-plane"}) {
    CAPTURE(planer);
    CHECK(fine_share(planer, "beech") < 0.01);
  }
}

TEST_CASE("sawing makes 1 to 5 % fine dust") {
  // Sawing makes 1 to 5 % below 0.1 mm [memory]
  for (const std::string saw : {"table-saw", "panel-saw", "mitre-saw", "track-saw", "jigsaw",
                                "band-saw", "scroll-saw", "hand-saw"}) {
    CAPTURE(saw);
    CHECK(fine_share(saw, "red-oak") >= 0.01);
    CHECK(fine_share(saw, "red-oak") <= 0.05 + 1e-12);
  }
}

TEST_CASE("routing alder by CNC makes 4.5 % fine dust") {
  // Annals of WULS, Forestry and Wood Technology 2023, pp. 43-50 (read in the abstract): 4.5 %
  // below 0.125 mm
  CHECK(fine_share("cnc-router", "red-alder") == test::printed(0.045, 3));
}

TEST_CASE("the dust of fine sanding has a median of 9.0 to 9.8 micrometres") {
  // J. Occup. Health 58 (2016) 640 (read in the abstract): mass median aerodynamic diameter 9.0 um
  // beech, 9.8 um cypress
  for (const std::string sander :
       {"belt-sander", "disc-sander", "spindle-sander", "random-orbital-sander"}) {
    CAPTURE(sander);
    CHECK(kind(sander).airborne_median_um >= 9.0);
    CHECK(kind(sander).airborne_median_um <= 9.8);
  }
}

}  // namespace
}  // namespace chipfall
