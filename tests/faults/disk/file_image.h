#pragma once

#include <cstdint>
#include <random>
#include <string>
#include <string_view>
#include <vector>

/// What the disk holds of one file for certain, and what was asked of it since.
namespace chipfall {

constexpr std::int64_t kSectorBytes = 512;  ///< a write is torn between these, never within

class FileImage {
 public:
  void write(std::int64_t at, std::string_view bytes);
  void truncate(std::int64_t size);
  void create();
  void remove();

  /// All that was asked is on the disk now.
  void sync();

  /// The folder was synced: a name that was removed stays so.
  void sync_name();

  /// What of it survives a power cut, by chance; that is then all there is.
  /// @return how many writes were lost in whole or in part.
  std::int64_t cut(std::mt19937_64& random);

  bool is_there() const { return there_; }
  const std::string& content() const { return content_; }

 private:
  struct Change {
    enum class Kind { kWrite, kTruncate, kCreate, kRemove } kind;
    std::int64_t at = 0;  // of a truncation the size
    std::string bytes;
  };

  void apply(const Change& change);
  void apply_torn(const Change& change, std::mt19937_64& random);

  bool there_ = false;
  std::string content_;
  std::vector<Change> asked_;  // since the last sync, in order
};

}  // namespace chipfall
