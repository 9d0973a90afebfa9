#pragma once

#include <stdexcept>
#include <string>

#include "core/shop/load.h"

/// A small shop with one of everything, for tests that need no more: a room of 8 m by 6 m, a table
/// saw on a central collector, a sander with its own vac, a lathe without extraction, a grinder.
///
/// The texts stand here in full, because the tests of the reader break them one word at a time.
namespace chipfall::test {

inline std::string small_library_text() {
  return R"(# Figures for tests, round rather than true.
machine_kinds {
  id: "saw"
  name: "Saw"
  cut { kerf { kerf_mm: 3 depth_mm: 20 feed_m_per_min: 4 } }
  cutting_share: 0.25
  class_shares { chips: 0.2 coarse: 0.7 fine: 0.1 }
  capture { chips: 0.6 fine: 0.4 }
  thrown {
    chips { offset_m: 0.6 along_m: 0.5 across_m: 0.4 up_to_m: 1.5 }
    coarse { offset_m: 0.4 along_m: 0.6 across_m: 0.4 up_to_m: 1.5 }
    fine { offset_m: 0.2 along_m: 1.2 across_m: 1.1 }
  }
  airborne_share: 0.25
  airborne_median_um: 12
  airborne_gsd: 2
  resets: "blade-down"
}
machine_kinds {
  id: "sander"
  name: "Sander"
  cut { sanding { area_m2_per_min: 0.1 depth_mm: 0.05 } }
  cutting_share: 0.5
  class_shares { coarse: 0.2 fine: 0.8 }
  thrown {
    coarse { along_m: 0.4 across_m: 0.4 }
    fine { along_m: 0.9 across_m: 0.9 }
  }
  airborne_share: 0.5
  airborne_median_um: 9
  airborne_gsd: 2
}
machine_kinds {
  id: "grinder"
  name: "Grinder"
  cut { direct { volume_cm3_per_min: 1 } }
  cutting_share: 0.4
  class_shares { coarse: 1 }
  thrown { coarse { offset_m: 0.5 along_m: 0.3 across_m: 0.2 } }
  sparks: true
  metal: true
}
stocks { id: "oak" specific_gravity: 0.63 moisture_percent: 12 family: "hardwood" }
stocks { id: "pine" specific_gravity: 0.4 moisture_percent: 12 family: "softwood" }
stocks { id: "steel" specific_gravity: 7.8 family: "metal" }
stocks { id: "acrylic" specific_gravity: 1.2 family: "plastic" }
cleaning_methods { tool: "vac" surface: "concrete" area_m2_per_min: 4 pickup_share: 0.95 }
cleaning_methods { tool: "vac" surface: "top" area_m2_per_min: 2 pickup_share: 0.95 }
cleaning_methods { tool: "broom" surface: "concrete" area_m2_per_min: 8 pickup_share: 0.8 }
duties {
  id: "blade-down"
  title: "Wind the blade of {machine} below the table"
  when: "machine used"
  minutes: 0.3
  spread: 0.3
  phase: "safe"
  safety: true
}
duties { id: "lock-doors" title: "Lock the doors" when: "lock-up" minutes: 1 phase: "last" }
)";
}

inline std::string small_sheet() {
  return R"(# One of everything.
name: "Small shop"
time_zone: "Europe/Oslo"
room {
  corners_m: [0, 0, 8, 0, 8, 6, 0, 6]
  ceiling_m: 3
}
sink_in { x_m: 4 y_m: 0.5 }
zones { id: "saw-floor" name: "Floor round the saw" kind: "floor" surface: "concrete" clutter: "some"
        box_m: [0, 0, 4, 6] }
zones { id: "bench" name: "Bench" kind: "top" surface: "top" clutter: "clear"
        corners_m: [5, 4, 7.5, 4, 7.5, 5, 5, 5] height_m: 0.85 clean_g_per_m2: 2 }
zones { id: "saw-table" kind: "machine" surface: "metal" box_m: [1, 2, 2, 3] }
zones { id: "shelf" kind: "ledge" surface: "wood" clutter: "crowded" box_m: [5, 5.7, 8, 6] cover: 0.8 }
machines { id: "saw-1" name: "Old saw" kind: "saw" at { x_m: 1.5 y_m: 2.5 } heading_deg: 270
           gate: "g1" zone: "saw-table" capture { coarse: 0.75 } }
machines { id: "sander-1" kind: "sander" at { x_m: 6 y_m: 4.5 } heading_deg: 90
           collector: "vac-1" cut { sanding { area_m2_per_min: 0.2 depth_mm: 0.05 } } }
machines { id: "lathe-1" kind: "lathe" at { x_m: 6 y_m: 1 } }
machines { id: "grinder-1" kind: "grinder" at { x_m: 7.5 y_m: 2 } }
gates { id: "g1" collector: "main" branch_mm: 125 }
gates { id: "sweep" collector: "main" branch_mm: 100 floor_inlet: true }
collectors { id: "main" kind: "collector" flow_m3_per_h: 1800 first_bin: "drum" filter_clean_g: 800 }
collectors { id: "vac-1" kind: "vac" flow_m3_per_h: 200 first_bin: "tub" run_on_minutes: 1 }
bins { id: "drum" kind: "collector drum" volume_l: 200 at { x_m: 7.5 y_m: 0.5 } then: "bag"
       keeps { chips: 0.98 } empty_at: 0.8 tare_kg: 9
       lift { hands_from_ankles_cm: 40 hands_start_cm: 45 hands_end_cm: 100 grip: "poor" } }
bins { id: "bag" kind: "collector bag" volume_l: 100 at { x_m: 7.5 y_m: 1 } }
bins { id: "tub" kind: "vac tub" volume_l: 30 at { x_m: 4.8 y_m: 4 } }
bins { id: "trash" kind: "trash" volume_l: 120 at { x_m: 4 y_m: 0.2 } }
air {
  exhaust_m3_per_h: 90
  filters { id: "ceiling" flow_m3_per_h: 900 efficiency: 0.8 timer_steps_minutes: [120, 240] }
}
tools { id: "hose" kind: "vac" hangs_at { x_m: 4.8 y_m: 3.8 } collector: "vac-1" }
tools { id: "broom" kind: "broom" hangs_at { x_m: 4.1 y_m: 0.1 } }
policy { units: "metric" fine_factor: 4 clean_g_per_m2: 6 people_per_heavy_bag: 3 }
duties { id: "log" title: "Sign the log" when: "always" minutes: 0.6 spread: 0.4 phase: "last" }
machine_kinds {
  id: "lathe"
  cut { direct { volume_cm3_per_min: 20 } }
  cutting_share: 0.6
  class_shares { shavings: 0.8 coarse: 0.2 }
  thrown {
    shavings { along_m: 0.5 across_m: 0.4 up_to_m: 1 }
    coarse { along_m: 0.6 across_m: 0.5 }
  }
  resets: "log"
}
stocks { id: "wet-birch" specific_gravity: 0.5 moisture_percent: 60 family: "hardwood" }
)";
}

inline std::string small_session_text() {
  return R"(id: "evening"
name: "An evening"
people: 2
minutes: 90
leave_at: "21:30"
uses { machine: "saw-1" minutes: 20 stock: "oak" from_minute: 10 }
uses { machine: "sander-1" minutes: 30 stock: "wet-birch" moisture_percent: 35 extraction: true }
uses { machine: "grinder-1" minutes: 5 stock: "steel" }
gates_left_open: "sweep"
oily_rags: true
)";
}

inline std::string small_state_text() {
  return R"(bins { bin: "drum" fill_share: 0.5 }
bins { bin: "bag" filter_fine_g: 120 }
zones { zone: "shelf" fine_g: 40 }
zones { zone: "" coarse_g: 10 fine_g: 5 }
out_of_order: "lathe-1"
)";
}

/// The value, or a failed test that shows the mistakes.
template <typename T>
T loaded(Result<T> result) {
  if (result) return std::move(*result);
  std::string all;
  for (const Error& error : result.error()) all += "\n  " + error.text();
  throw std::runtime_error("expected no mistakes, found:" + all);
}

inline Library small_library() {
  return loaded(load_library({{"small-library", small_library_text()}}));
}

inline Shop small_shop() { return loaded(load_shop({"small", small_sheet()}, small_library())); }

inline Session small_session() {
  return loaded(load_session({"small-session", small_session_text()}, small_shop()));
}

}  // namespace chipfall::test
