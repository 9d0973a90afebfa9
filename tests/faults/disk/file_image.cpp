#include "tests/faults/disk/file_image.h"

#include <algorithm>

namespace chipfall {

namespace {

void put(std::string& content, std::int64_t at, std::string_view bytes) {
  const auto start = static_cast<std::size_t>(at);
  if (content.size() < start + bytes.size()) content.resize(start + bytes.size(), '\0');
  std::copy(bytes.begin(), bytes.end(), content.begin() + at);
}

}  // namespace

void FileImage::write(std::int64_t at, std::string_view bytes) {
  asked_.push_back({Change::Kind::kWrite, at, std::string(bytes)});
}

void FileImage::truncate(std::int64_t size) {
  asked_.push_back({Change::Kind::kTruncate, size, ""});
}

void FileImage::create() { asked_.push_back({Change::Kind::kCreate, 0, ""}); }

void FileImage::remove() { asked_.push_back({Change::Kind::kRemove, 0, ""}); }

void FileImage::sync() {
  for (const Change& change : asked_) apply(change);
  asked_.clear();
}

void FileImage::sync_name() {
  const auto last = std::find_if(asked_.rbegin(), asked_.rend(), [](const Change& change) {
    return change.kind == Change::Kind::kRemove;
  });
  if (last == asked_.rend()) return;
  asked_.erase(asked_.begin(), last.base());
  there_ = false;
  content_.clear();
}

void FileImage::apply(const Change& change) {
  switch (change.kind) {
    case Change::Kind::kWrite:
      there_ = true;
      put(content_, change.at, change.bytes);
      break;
    case Change::Kind::kTruncate:
      content_.resize(static_cast<std::size_t>(change.at), '\0');
      break;
    case Change::Kind::kCreate:
      there_ = true;
      break;
    case Change::Kind::kRemove:
      there_ = false;
      content_.clear();
      break;
  }
}

void FileImage::apply_torn(const Change& change, std::mt19937_64& random) {
  if (change.kind != Change::Kind::kWrite) return apply(change);
  const std::string_view bytes = change.bytes;
  std::int64_t done = 0;
  while (done < static_cast<std::int64_t>(bytes.size())) {
    const std::int64_t at = change.at + done;
    const std::int64_t left = static_cast<std::int64_t>(bytes.size()) - done;
    const std::int64_t length = std::min(left, kSectorBytes - at % kSectorBytes);
    if (random() % 2 == 0) {
      there_ = true;
      put(content_, at, bytes.substr(static_cast<std::size_t>(done), std::size_t(length)));
    }
    done += length;
  }
}

std::int64_t FileImage::cut(std::mt19937_64& random) {
  // A name that was removed and made again stands for the old file or for the new one, whole.
  const auto is_remove = [](const Change& c) { return c.kind == Change::Kind::kRemove; };
  const auto last = std::find_if(asked_.rbegin(), asked_.rend(), is_remove);
  if (last != asked_.rend()) {
    const auto removal = last.base() - 1;
    if (random() % 2 == 0) {
      asked_.erase(removal, asked_.end());
      std::erase_if(asked_, is_remove);
    } else {
      sync_name();
    }
  }
  enum Survival { kNothing, kPrefix, kSubset, kTorn, kEverything, kSurvivals };
  const auto survival = static_cast<Survival>(random() % kSurvivals);
  std::size_t prefix = survival == kNothing ? 0 : asked_.size();
  if (survival == kPrefix || survival == kTorn) prefix = random() % (asked_.size() + 1);
  std::int64_t lost = 0;
  for (std::size_t i = 0; i < asked_.size(); ++i) {
    if (survival == kTorn && (i == prefix || random() % 4 == 0)) {
      apply_torn(asked_[i], random);
      ++lost;
    } else if (survival == kSubset || survival == kTorn ? random() % 2 == 0 : i < prefix) {
      apply(asked_[i]);
    } else if (asked_[i].kind == Change::Kind::kWrite) {
      ++lost;
    }
  }
  asked_.clear();
  return lost;
}

}  // namespace chipfall
