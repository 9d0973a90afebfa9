#include "core/door/kept_falls.h"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include "core/proto/kept.pb.h"

namespace chipfall {
namespace {

/// Changes whenever core/dust works a fall out otherwise.
constexpr int kReckoning = 1;

ShopState rounded(ShopState state) {
  for (BinState& bin : state.bins) {
    const double fill = std::clamp(bin.fill_share.value_or(0), 0.0, 2.0);
    bin.fill_share = std::round(fill / kFillStep_share) * kFillStep_share;
  }
  return state;
}

/// The fills that a session found, in steps.
std::string text_of(const ShopState& found) {
  std::string text;
  for (const BinState& bin : found.bins) {
    fmt::format_to(std::back_inserter(text), "{:.0f} ",
                   bin.fill_share.value_or(0) / kFillStep_share);
  }
  return text;
}

template <typename List>
void put(const PerClass& grams, List* list) {
  for (const double g : grams) list->Add(g);
}

std::string bytes_of(const SessionFall& fall) {
  proto::KeptFall kept;
  for (const PerClass& zone : fall.zones) put(zone, kept.mutable_zones_g());
  put(fall.open_floor, kept.mutable_open_floor_g());
  for (const double g : fall.settling_g) kept.add_settling_g(g);
  kept.set_open_settling_g(fall.open_settling_g);
  for (const BinDust& bin : fall.for_bins.bins) {
    put(bin.caught_g, kept.mutable_bins_g());
    kept.add_bins_m3(bin.caught_m3);
    kept.add_fine_g(bin.caught_fine_g);
  }
  for (const bool metal : fall.for_bins.metal) kept.add_metal(metal);
  kept.set_open_floor_metal(fall.for_bins.open_floor_metal);
  kept.set_solid_kg_per_m3(fall.for_bins.solid_kg_per_m3);
  for (const double m3 : fall.for_bins.scraps_m3) kept.add_scraps_m3(m3);
  return kept.SerializeAsString();
}

template <typename List>
std::vector<PerClass> per_class(const List& list) {
  std::vector<PerClass> out(static_cast<size_t>(list.size()) / kChipClasses);
  for (size_t i = 0; i < out.size(); ++i) {
    for (const ChipClass c : kAllClasses) {
      out[i][c] = list.Get(static_cast<int>(i) * kChipClasses + static_cast<int>(c));
    }
  }
  return out;
}

/// Nothing where the bytes are not such a fall of a shop of this size.
std::optional<SessionFall> fall_from(std::string_view bytes, const Shop& shop) {
  proto::KeptFall kept;
  if (!kept.ParseFromArray(bytes.data(), static_cast<int>(bytes.size()))) return std::nullopt;
  const int zones = static_cast<int>(shop.zones.size());
  const int bins = static_cast<int>(shop.bins.size());
  const bool fits = kept.zones_g_size() == zones * kChipClasses &&
                    kept.open_floor_g_size() == kChipClasses && kept.settling_g_size() == zones &&
                    kept.bins_g_size() == bins * kChipClasses && kept.bins_m3_size() == bins &&
                    kept.fine_g_size() == bins && kept.metal_size() == zones &&
                    kept.scraps_m3_size() == bins;
  if (!fits) return std::nullopt;
  SessionFall fall;
  fall.zones = per_class(kept.zones_g());
  fall.open_floor = per_class(kept.open_floor_g()).front();
  fall.settling_g.assign(kept.settling_g().begin(), kept.settling_g().end());
  fall.open_settling_g = kept.open_settling_g();
  const std::vector<PerClass> bins_g = per_class(kept.bins_g());
  for (int b = 0; b < bins; ++b) {
    fall.for_bins.bins.push_back({bins_g[static_cast<size_t>(b)], kept.bins_m3(b), kept.fine_g(b)});
  }
  fall.for_bins.metal.assign(kept.metal().begin(), kept.metal().end());
  fall.for_bins.open_floor_metal = kept.open_floor_metal();
  fall.for_bins.solid_kg_per_m3 = kept.solid_kg_per_m3();
  fall.for_bins.scraps_m3.assign(kept.scraps_m3().begin(), kept.scraps_m3().end());
  return fall;
}

/// Whether what is kept was worked out under this key.
OrError<bool> is_of(SqliteFile& file, const std::string& key) {
  const auto kept = file.text_of("SELECT sheet FROM kept_falls_of");
  if (!kept) return tl::unexpected(kept.error());
  return *kept == key;
}

}  // namespace

OrError<KeptFalls> KeptFalls::open(LedgerStore& store, const std::string& sheet_key) {
  SqliteFile& file = store.file();
  const std::string key = fmt::format("{}:{}", kReckoning, sheet_key);
  const auto tables = file.number_of(
      "SELECT count(*) FROM sqlite_schema WHERE name IN ('kept_falls', 'kept_falls_of')");
  if (!tables) return tl::unexpected(tables.error());
  if (*tables == 2) {
    const auto same = is_of(file, key);
    if (!same) return tl::unexpected(same.error());
    if (*same) return KeptFalls(store);
  }
  auto transaction = WriteTransaction::begin(file);
  if (!transaction) return tl::unexpected(transaction.error());
  const auto made = file.run(
      "DROP TABLE IF EXISTS kept_falls; DROP TABLE IF EXISTS kept_falls_of;"
      "CREATE TABLE kept_falls (session TEXT PRIMARY KEY, found TEXT NOT NULL,"
      "  bytes BLOB NOT NULL) WITHOUT ROWID, STRICT;"
      "CREATE TABLE kept_falls_of (one INTEGER PRIMARY KEY CHECK (one = 1),"
      "  sheet TEXT NOT NULL) STRICT;");
  if (!made) return tl::unexpected(made.error());
  auto naming = Statement::prepare(file, "INSERT INTO kept_falls_of VALUES (1, CAST(?1 AS TEXT))",
                                   "name the sheet");
  if (!naming) return tl::unexpected(naming.error());
  const auto named = naming->bind_bytes(1, key).finish();
  if (!named) return tl::unexpected(named.error());
  const auto committed = transaction->commit();
  if (!committed) return tl::unexpected(committed.error());
  return KeptFalls(store);
}

std::optional<SessionFall> KeptFalls::look_up(const std::string& session, const std::string& found,
                                              const Shop& shop) {
  if (!looking_up_) {
    auto statement =
        Statement::prepare(store_->file(),
                           "SELECT bytes FROM kept_falls WHERE session = CAST(?1 AS TEXT)"
                           " AND found = CAST(?2 AS TEXT)",
                           "look up what a session left");
    if (!statement) return std::nullopt;
    looking_up_.emplace(*std::move(statement));
  }
  looking_up_->reset();
  const auto row = looking_up_->bind_bytes(1, session).bind_bytes(2, found).step();
  std::optional<SessionFall> fall;
  if (row && *row) fall = fall_from(looking_up_->bytes(0), shop);
  looking_up_->reset();
  return fall;
}

FallSource KeptFalls::source(const Shop& shop, const Overlay& overlay) {
  return [this, &shop, &overlay](const PastEvent& session, const ShopState& before) {
    const ShopState state = rounded(before);
    const std::string found = text_of(state);
    if (auto kept = look_up(session.id, found, shop)) return *std::move(kept);
    SessionFall fall =
        fall_of(shop, session.session, dust_of(shop, overlay, state, session.session));
    fresh_.push_back({session.id, found, bytes_of(fall)});
    return fall;
  };
}

OrError<void> KeptFalls::keep() {
  if (fresh_.empty()) return {};
  auto transaction = WriteTransaction::begin(store_->file());
  if (!transaction) return tl::unexpected(transaction.error());
  auto statement = Statement::prepare(
      store_->file(),
      "INSERT OR REPLACE INTO kept_falls VALUES (CAST(?1 AS TEXT), CAST(?2 AS TEXT), ?3)",
      "keep a session's fall");
  if (!statement) return tl::unexpected(statement.error());
  for (const Fresh& fresh : fresh_) {
    const auto put = statement->bind_bytes(1, fresh.session)
                         .bind_bytes(2, fresh.found)
                         .bind_bytes(3, fresh.bytes)
                         .finish();
    if (!put) return put;
  }
  const auto committed = transaction->commit();
  if (committed) fresh_.clear();
  return committed;
}

}  // namespace chipfall
