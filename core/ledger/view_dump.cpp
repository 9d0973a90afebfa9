#include <fmt/format.h>

#include <algorithm>

#include "core/ledger/sqlite.h"
#include "core/ledger/views.h"

/// Every row of every view as text. SQLite writes the lines; arrivals become entry names.
namespace chipfall {

namespace {

constexpr const char* kLines[] = {
    "SELECT 'fact ' || hex(device) || '/' || sequence || ' kind ' || kind || ' at ' || at_ms"
    "  || iif(doubtful, ' doubtful', '')"
    " FROM view_facts JOIN entries ON entries.arrival = view_facts.arrival",

    "SELECT 'clock ' || hex(device) || '/' || sequence || ' ahead ' || ahead_ms FROM view_clocks",

    "SELECT 'duty ' || hex(session_device) || '/' || session_sequence || ' ' || hex(id)"
    "  || ' place ' || place || ' since ' || since_ms"
    "  || iif(session_arrival, ' listed by ' || (SELECT hex(device) || '/' || sequence"
    "       FROM entries WHERE arrival = session_arrival), '')"
    "  || ' ending ' || ending || ' ' || wall_ms || '.' || counter || ' ' || hex(device) || '/'"
    "  || sequence || ' at ' || ended_ms"
    "  || iif(ending_arrival, ' told by ' || (SELECT hex(device) || '/' || sequence"
    "       FROM entries WHERE arrival = ending_arrival), '') FROM view_duties",

    "SELECT 'building ' || hex(id) || ' ' || b.wall_ms || '.' || b.counter || ' ' || hex(b.device)"
    "  || '/' || b.sequence || ' ending ' || ending || ' at ' || at_ms"
    "  || ' told by ' || hex(e.device) || '/' || e.sequence"
    " FROM view_building b JOIN entries e ON e.arrival = b.arrival",

    "SELECT 'latest ' || kind || ' ' || hex(about) || ' ' || l.wall_ms || '.' || l.counter || ' '"
    "  || hex(l.device) || '/' || l.sequence || ' told by ' || hex(e.device) || '/' || e.sequence"
    " FROM view_latest l JOIN entries e ON e.arrival = l.arrival",

    "SELECT 'back ' || hex(machine) || ' ' || b.wall_ms || '.' || b.counter || ' '"
    "  || hex(b.device) || '/' || b.sequence || ' saw ' || hex(seen_device) || '/'"
    "  || seen_sequence || ' told by ' || hex(e.device) || '/' || e.sequence"
    " FROM view_backs b JOIN entries e ON e.arrival = b.arrival"};

}  // namespace

OrError<std::string> Views::dump() {
  std::vector<std::string> lines;
  for (const char* sql : kLines) {
    auto statement = Statement::prepare(store_->file(), sql, "write the views as text");
    if (!statement) return tl::unexpected(statement.error());
    while (true) {
      const auto row = statement->step();
      if (!row) return tl::unexpected(row.error());
      if (!*row) break;
      lines.emplace_back(statement->bytes(0));
    }
  }
  std::ranges::sort(lines);
  return fmt::format("{}\n", fmt::join(lines, "\n"));
}

}  // namespace chipfall
