#include "core/door/history.h"

#include <algorithm>
#include <limits>

#include <fmt/format.h>

#include "core/door/entry_words.h"
#include "core/shop/mistakes.h"

namespace chipfall {
namespace {

const ShopClock& clock_of(const OpenShop* open) {
  static const ShopClock utc("UTC");
  return open == nullptr ? utc : open->clock;
}

/// When it happened, as far as can be told from the entry alone.
std::int64_t happened_ms(const proto::Entry& entry, EventDoubt doubt) {
  return doubt == EventDoubt::kCredible ? entry.event_utc_ms() : entry.clock().wall_ms();
}

std::string rows_before(bool from_place) {
  std::string sql = fmt::format("SELECT {} FROM entries ", kEntryColumns);
  if (from_place) sql += "WHERE (wall_ms, counter, device, sequence) < (?1, ?2, ?3, ?4) ";
  sql += "ORDER BY wall_ms DESC, counter DESC, device DESC, sequence DESC";
  return sql;
}

/// Bytes that are whole but that this version cannot read at all count as of a newer one.
OrError<proto::Entry> entry_of(LedgerStore& store, const EntryRow& row) {
  if (checksum_of(row) != row.checksum) {
    return tl::unexpected(store.file().refusal(
        ErrorCode::kUnreadable,
        fmt::format("entry {} of a device is damaged; keep the file and salvage what can be read "
                    "into a new one",
                    row.order.sequence)));
  }
  proto::Entry entry;
  if (!entry.ParseFromArray(row.bytes.data(), static_cast<int>(row.bytes.size()))) entry.Clear();
  return entry;
}

void put_name(const EntryOrder& order, proto::EntryName& name) {
  name.set_device(order.device);
  name.set_sequence(order.sequence);
}

void put_line(const proto::Entry& entry, const EntryRow& row, const ShopClock& clock,
              std::int64_t now_ms, EntryReader& reader, proto::HistoryLine& line) {
  const std::int64_t at_ms = happened_ms(entry, row.doubt);
  put_name(row.order, *line.mutable_entry());
  line.set_event_utc_ms(at_ms);
  line.set_day(clock.day_text(at_ms, now_ms));
  line.set_time(clock.time_text(at_ms));
  line.set_kind(reader.words(entry).kind);
  line.set_text(reader.line(entry));
  line.set_member(plain_line(entry.member()));
  line.set_doubtful(row.doubt != EventDoubt::kCredible);
}

/// RFC 4180, section 2: in quotes where it has a quote, comma or line break.
std::string csv_field(const std::string& text) {
  if (text.find_first_of("\",\r\n") == std::string::npos) return text;
  std::string out = "\"";
  for (const char c : text) {
    if (c == '"') out += '"';
    out += c;
  }
  return out + '"';
}

/// What people wrote; spreadsheets run what begins like a formula.
std::string csv_words(const std::string& text) {
  const bool formula = !text.empty() && std::string_view("=+-@").find(text[0]) != std::string::npos;
  return csv_field(formula ? "'" + text : text);
}

/// When the rows of an export happened, both ends included.
struct Span {
  std::int64_t from_ms = std::numeric_limits<std::int64_t>::min();
  std::int64_t until_ms = std::numeric_limits<std::int64_t>::max();
};

OrError<Span> span_of(const proto::ExportRecord& asked, const ShopClock& clock) {
  Span span;
  if (asked.has_from_utc_ms()) span.from_ms = asked.from_utc_ms();
  if (asked.has_until_utc_ms()) span.until_ms = asked.until_utc_ms();
  const auto no_day = [](const std::string& day, const char* field) {
    return tl::unexpected(
        Error{ErrorCode::kMistake,
              fmt::format("{} is not a day; give YYYY-MM-DD, such as 2026-11-03", in_quotes(day)),
              {"", 0, 0, field}});
  };
  if (!asked.from_day().empty()) {
    const auto begin = clock.day_begin_ms(asked.from_day());
    if (!begin) return no_day(asked.from_day(), "from_day");
    span.from_ms = *begin;
  }
  if (!asked.until_day().empty()) {
    const auto end = clock.day_begin_ms(asked.until_day(), 1);
    if (!end) return no_day(asked.until_day(), "until_day");
    span.until_ms = *end - 1;
  }
  return span;
}

struct Row {
  std::int64_t at_ms = 0;
  std::string text;
};

std::string row_text(const proto::Entry& entry, const EntryWords& told, std::int64_t at_ms,
                     bool doubtful, const ShopClock& clock, bool names) {
  static const ShopClock utc("UTC");
  std::string what = told.what;
  if (names && !told.name.empty()) {
    fmt::format_to(std::back_inserter(what), " \"{}\"", told.name);
  }
  std::string text = fmt::format(
      "{},{},{},{},{},{},{},{}", clock.iso_text(at_ms), utc.iso_text(at_ms).substr(0, 19) + "Z",
      csv_words(what), csv_words(told.place), told.minutes ? short_number(*told.minutes) : "",
      told.people > 0 ? std::to_string(told.people) : "", csv_words(told.reason),
      doubtful ? "yes" : "no");
  if (names) fmt::format_to(std::back_inserter(text), ",{}", csv_words(plain_line(entry.member())));
  return text + "\r\n";
}

}  // namespace

OrError<proto::History> read_history(LedgerStore& store, const OpenShop* open,
                                     const proto::ReadHistory& asked, std::int64_t now_ms) {
  const bool paged = asked.has_before();
  const std::string device = asked.before().entry().device();
  auto statement = Statement::prepare(store.file(), rows_before(paged), "read the history");
  if (!statement) return tl::unexpected(statement.error());
  if (paged) {
    // The last number that a row can have, where the shell names a larger one.
    const std::uint64_t last = std::numeric_limits<std::int64_t>::max();
    const std::uint64_t sequence = std::min(asked.before().entry().sequence(), last);
    statement->bind(1, asked.before().clock().wall_ms())
        .bind(2, asked.before().clock().counter())
        .bind_bytes(3, device)
        .bind(4, static_cast<std::int64_t>(sequence));
  }
  const int wanted = asked.most() == 0
                         ? kUsualLines
                         : static_cast<int>(std::min<std::uint32_t>(asked.most(), kMostLines));
  proto::History history;
  history.set_format(1);
  EntryReader reader(store, open);
  EntryOrder last;
  for (;;) {
    const OrError<bool> more = statement->step();
    if (!more) return tl::unexpected(more.error());
    if (!*more) return history;
    if (history.lines_size() == wanted) break;
    const EntryRow row = entry_at(*statement);
    const OrError<proto::Entry> entry = entry_of(store, row);
    if (!entry) return tl::unexpected(entry.error());
    put_line(*entry, row, clock_of(open), now_ms, reader, *history.add_lines());
    last = row.order;
  }
  proto::HistoryPlace& next = *history.mutable_next();
  next.mutable_clock()->set_wall_ms(last.clock.wall_ms);
  next.mutable_clock()->set_counter(last.clock.counter);
  put_name(last, *next.mutable_entry());
  return history;
}

OrError<proto::Exported> export_record(LedgerStore& store, const OpenShop* open,
                                       const proto::ExportRecord& asked) {
  const OrError<Span> span = span_of(asked, clock_of(open));
  if (!span) return tl::unexpected(span.error());
  EntryReader reader(store, open);
  std::vector<Row> rows;
  const auto visited = store.visit([&](const StoredEntry& stored) {
    proto::Entry entry;
    if (!entry.ParseFromArray(stored.bytes.data(), static_cast<int>(stored.bytes.size()))) {
      return true;  // of a newer version that this one cannot read at all; its bytes stay
    }
    const std::int64_t at_ms = happened_ms(entry, stored.doubt);
    if (at_ms < span->from_ms || at_ms > span->until_ms) return true;
    rows.push_back(
        {at_ms, row_text(entry, reader.words(entry), at_ms, stored.doubt != EventDoubt::kCredible,
                         clock_of(open), asked.member_names())});
    return static_cast<int>(rows.size()) <= kMostExportRows;
  });
  if (!visited) return tl::unexpected(visited.error());
  if (static_cast<int>(rows.size()) > kMostExportRows) {
    return tl::unexpected(Error{
        ErrorCode::kOutOfBounds,
        fmt::format("more than {} entries in this span; ask for a shorter one", kMostExportRows),
        {"", 0, 0, "from_utc_ms"}});
  }
  // Entries of one moment stay in the ledger's order.
  std::ranges::stable_sort(rows, {}, &Row::at_ms);
  proto::Exported out;
  out.set_format(1);
  out.set_rows(static_cast<int>(rows.size()));
  std::string& csv = *out.mutable_csv();
  csv = "local_time,utc,what,place,minutes,people,reason,time_doubtful";
  if (asked.member_names()) csv += ",member";
  csv += "\r\n";
  for (const Row& row : rows) csv += row.text;
  return out;
}

}  // namespace chipfall
