#include "sync/hub_counts.h"

#include <fmt/format.h>

#include <algorithm>
#include <cctype>
#include <iterator>
#include <string_view>

#include "sync/version.h"

namespace chipfall {

void HubCounts::committed(std::int64_t took_us) {
  ++commits;
  commit_us += took_us;
  const double seconds = static_cast<double>(took_us) / 1e6;
  const auto bucket = std::lower_bound(kCommitBounds_s.begin(), kCommitBounds_s.end(), seconds);
  ++commit_buckets[static_cast<std::size_t>(bucket - kCommitBounds_s.begin())];
}

void HubCounts::refused(proto::RefusalKind kind) {
  if (kind >= 0 && kind < kRefusalKinds) ++refusals[static_cast<std::size_t>(kind)];
}

namespace {

class Text {
 public:
  void family(std::string_view name, std::string_view type, std::string_view help) {
    fmt::format_to(to(), "# HELP chipfall_hub_{} {}\n# TYPE chipfall_hub_{} {}\n", name, help, name,
                   type);
  }
  template <typename T>
  void sample(std::string_view name, std::string_view labels, T value) {
    fmt::format_to(to(), "chipfall_hub_{}{} {}\n", name, labels, value);
  }
  void one(std::string_view name, std::string_view type, std::string_view help,
           const Count& count) {
    family(name, type, help);
    sample(name, "", count.load());
  }
  std::string take() { return std::move(text_); }

 private:
  std::back_insert_iterator<std::string> to() { return std::back_inserter(text_); }
  std::string text_;
};

std::string lower(std::string word) {
  for (char& letter : word) {
    letter = static_cast<char>(std::tolower(static_cast<unsigned char>(letter)));
  }
  return word;
}

void add_refusals(const HubCounts& counts, Text& text) {
  text.family("refusals_total", "counter", "Refusals sent to devices, by kind.");
  constexpr std::string_view kPrefix = "REFUSAL_";
  for (int kind = 1; kind < kRefusalKinds && proto::RefusalKind_IsValid(kind); ++kind) {
    const std::string name = proto::RefusalKind_Name(static_cast<proto::RefusalKind>(kind));
    text.sample("refusals_total",
                fmt::format("{{kind=\"{}\"}}", lower(name.substr(kPrefix.size()))),
                counts.refusals[static_cast<std::size_t>(kind)].load());
  }
}

void add_commits(const HubCounts& counts, Text& text) {
  text.one("commit_failures_total", "counter", "Commits that failed; nothing of them was kept.",
           counts.commit_failures);
  text.family("commit_duration_seconds", "histogram", "From taking the offers to being on disk.");
  std::int64_t so_far = 0;
  for (std::size_t i = 0; i < kCommitBounds_s.size(); ++i) {
    so_far += counts.commit_buckets[i].load();
    text.sample("commit_duration_seconds_bucket", fmt::format("{{le=\"{}\"}}", kCommitBounds_s[i]),
                so_far);
  }
  so_far += counts.commit_buckets.back().load();
  text.sample("commit_duration_seconds_bucket", "{le=\"+Inf\"}", so_far);
  text.sample("commit_duration_seconds_sum", "",
              static_cast<double>(counts.commit_us.load()) / 1e6);
  text.sample("commit_duration_seconds_count", "", so_far);
}

void add_entries(const HubCounts& counts, Text& text) {
  text.family("entries_total", "counter", "Entries that devices offered, by what became of them.");
  text.sample("entries_total", "{verdict=\"new\"}", counts.entries_new.load());
  text.sample("entries_total", "{verdict=\"known_same\"}", counts.entries_known.load());
  text.sample("entries_total", "{verdict=\"known_different\"}", counts.entries_different.load());
  text.sample("entries_total", "{verdict=\"refused\"}", counts.entries_refused.load());
}

}  // namespace

std::string metrics_text(const HubCounts& counts) {
  Text text;
  text.family("build_info", "gauge", "The program's version.");
  text.sample("build_info", fmt::format("{{version=\"{}\"}}", kChipfallVersion), 1);
  text.family("start_time_seconds", "gauge", "When the hub started, since 1970 in UTC.");
  text.sample("start_time_seconds", "", static_cast<double>(counts.started_utc_ms.load()) / 1e3);
  text.one("connections", "gauge", "Open connections of every kind.", counts.connections);
  text.one("connections_total", "counter", "Connections taken.", counts.connections_total);
  text.one("live_devices", "gauge", "Connections whose device has proved itself.", counts.live);
  text.family("turned_away_total", "counter", "Connections that came to nothing, by reason.");
  text.sample("turned_away_total", "{reason=\"full\"}", counts.turned_away_full.load());
  text.sample("turned_away_total", "{reason=\"origin\"}", counts.turned_away_origin.load());
  text.sample("turned_away_total", "{reason=\"handshake\"}", counts.failed_handshakes.load());
  text.sample("turned_away_total", "{reason=\"slow\"}", counts.slow.load());
  text.one("received_bytes_total", "counter", "Bytes of frames received.", counts.received_bytes);
  text.one("sent_bytes_total", "counter", "Bytes of frames sent.", counts.sent_bytes);
  text.one("queued_bytes", "gauge", "Bytes of frames waiting to be sent.", counts.queued_bytes);
  text.one("backlog_bytes", "gauge", "Bytes of entries waiting to be stored.",
           counts.backlog_bytes);
  add_entries(counts, text);
  add_commits(counts, text);
  add_refusals(counts, text);
  text.one("shops", "gauge", "Shops of this hub.", counts.shops);
  text.one("log_entries", "gauge", "Entries in the logs of all shops.", counts.log_entries);
  text.one("log_bytes", "gauge", "Bytes of the shops' files.", counts.file_bytes);
  text.one("wal_bytes", "gauge", "Bytes of the shops' write-ahead logs.", counts.wal_bytes);
  text.one("disk_free_bytes", "gauge", "Free space on the data folder's disk.", counts.free_bytes);
  text.one("disk_full", "gauge", "1 while no entries are taken for want of space.",
           counts.disk_full);
  text.one("journal_dropped_lines_total", "counter", "Log lines left out as repeats.",
           counts.journal_dropped);
  return text.take();
}

}  // namespace chipfall
