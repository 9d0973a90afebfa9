#pragma once

#include <array>
#include <atomic>
#include <cstdint>
#include <string>

#include "core/proto/sync.pb.h"

/// What a hub counts about itself, and the text in which Prometheus reads it.
///
/// Nothing here names a person, a device or a shop. Counters may be raised on any thread.
/// Source: prometheus.io/docs/instrumenting/exposition_formats (text format 0.0.4), naming
/// practice.
namespace chipfall {

using Count = std::atomic<std::int64_t>;

/// Upper bounds of the histogram of commits, in seconds; one more bucket for what is longer.
constexpr std::array<double, 10> kCommitBounds_s = {0.001, 0.0025, 0.005, 0.01, 0.025,
                                                    0.05,  0.1,    0.25,  1,    5};
constexpr int kRefusalKinds = 32;

struct HubCounts {
  Count started_utc_ms{0};
  Count connections{0}, connections_total{0};
  Count turned_away_full{0}, turned_away_origin{0}, failed_handshakes{0}, silent{0}, slow{0};
  Count live{0};
  Count received_bytes{0}, sent_bytes{0}, queued_bytes{0}, backlog_bytes{0};
  Count entries_new{0}, entries_known{0}, entries_different{0}, entries_refused{0};
  Count commits{0}, commit_failures{0}, commit_us{0};
  std::array<Count, kCommitBounds_s.size() + 1> commit_buckets{};
  std::array<Count, kRefusalKinds> refusals{};
  // Looked up when asked for.
  Count shops{0}, log_entries{0}, file_bytes{0}, wal_bytes{0}, free_bytes{0}, disk_full{0};
  Count journal_dropped{0};

  void committed(std::int64_t took_us);
  void refused(proto::RefusalKind kind);
};

std::string metrics_text(const HubCounts& counts);

}  // namespace chipfall
