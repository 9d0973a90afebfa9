#include "sync/hub_export.h"

#include <fmt/chrono.h>
#include <fmt/format.h>
#include <google/protobuf/util/json_util.h>
#include <openssl/evp.h>

#include <boost/json/src.hpp>
#include <ctime>
#include <deque>
#include <filesystem>
#include <fstream>
#include <map>

#include "core/proto/ledger.pb.h"
#include "sync/installation.h"
#include "sync/role_words.h"

namespace chipfall {

namespace fs = std::filesystem;
namespace json = boost::json;

namespace {

/// Read at a time, so that the log may be folded in between [c.p.].
constexpr std::size_t kEntriesAtOnce = 5'000;
/// Sessions whose duties' titles are kept in mind; older ones' duties go by their ids [c.p.].
constexpr std::size_t kSessionsInMind = 5'000;

tl::unexpected<Error> write_error(const std::string& path, std::string message) {
  return tl::unexpected(Error{ErrorCode::kUnreadable, std::move(message), {path, 0, 0, ""}});
}

std::string base64_of(std::string_view bytes) {
  std::string text(4 * ((bytes.size() + 2) / 3) + 1, '\0');
  const int size = EVP_EncodeBlock(reinterpret_cast<unsigned char*>(text.data()),
                                   reinterpret_cast<const unsigned char*>(bytes.data()),
                                   static_cast<int>(bytes.size()));
  text.resize(static_cast<std::size_t>(size));
  return text;
}

std::string utc_text(std::int64_t utc_ms) {
  return fmt::format("{:%Y-%m-%dT%H:%M:%SZ}", fmt::gmtime(static_cast<std::time_t>(utc_ms / 1000)));
}

/// A file for its owner only; what is written is on disk after `close`.
class OutFile {
 public:
  explicit OutFile(std::string path) : path_(std::move(path)), out_(path_, std::ios::binary) {
    std::error_code ignored;
    fs::permissions(path_, fs::perms::owner_read | fs::perms::owner_write, ignored);
  }
  void put(std::string_view text) { out_ << text; }
  OrError<void> close() {
    out_.close();
    if (out_) return {};
    return write_error(path_, "could not be written; is there room on the disk?");
  }

 private:
  std::string path_;
  std::ofstream out_;
};

OrError<void> write_file(const std::string& path, std::string_view text) {
  OutFile file(path);
  file.put(text);
  return file.close();
}

OrError<void> make_folder(const std::string& path) {
  std::error_code failure;
  fs::create_directories(path, failure);
  if (!failure) fs::permissions(path, fs::perms::owner_all, failure);
  if (!failure) return {};
  return write_error(path, "could not be made: " + failure.message());
}

/// What the duties of a session are called, for the entries that end them.
class DutyTitles {
 public:
  void learn(const proto::Entry& entry) {
    if (!entry.has_session_ended()) return;
    const Name name(entry.device(), entry.sequence());
    auto& titles = sessions_[name];
    for (const proto::DutyOwed& owed : entry.session_ended().owed())
      titles[owed.id()] = owed.title();
    order_.push_back(name);
    if (order_.size() <= kSessionsInMind) return;
    sessions_.erase(order_.front());
    order_.pop_front();
  }
  /// Empty where the entry ends no duty, or of a session that is not known.
  std::string of(const proto::Entry& entry) const {
    const proto::DutyName* duty = entry.has_duty_done()         ? &entry.duty_done().duty()
                                  : entry.has_duty_passed_on()  ? &entry.duty_passed_on().duty()
                                  : entry.has_duty_not_needed() ? &entry.duty_not_needed().duty()
                                  : entry.has_duty_reopened()   ? &entry.duty_reopened().duty()
                                                                : nullptr;
    if (duty == nullptr) return {};
    const auto session = sessions_.find({duty->session().device(), duty->session().sequence()});
    if (session == sessions_.end()) return {};
    const auto title = session->second.find(duty->id());
    return title == session->second.end() ? std::string() : title->second;
  }

 private:
  using Name = std::pair<std::string, std::uint64_t>;
  std::map<Name, std::map<std::string, std::string>> sessions_;
  std::deque<Name> order_;
};

/// The oneof's name of the payload: "duty_done"; of a newer version's kind "unknown".
std::string kind_of(const proto::Entry& entry) {
  const auto* payload = proto::Entry::descriptor()->FindOneofByName("payload");
  const auto* field = proto::Entry::GetReflection()->GetOneofFieldDescriptor(entry, payload);
  return field == nullptr ? "unknown" : std::string(field->name());
}

std::string line_of(const LoggedEntry& logged, const proto::Entry& entry, bool readable,
                    const std::string& title) {
  json::object line;
  line["position"] = logged.position;
  line["device"] = hex_of(std::string(logged.device));
  line["sequence"] = logged.sequence;
  line["kind"] = kind_of(entry);
  if (!title.empty()) line["title"] = title;
  std::string text;
  proto::Entry again;
  const bool told = readable && google::protobuf::util::MessageToJsonString(entry, &text).ok();
  json::error_code failure;
  if (told) line["entry"] = json::parse(text, failure);
  // Does the JSON say all of it?
  const bool whole = told && !failure &&
                     google::protobuf::util::JsonStringToMessage(text, &again).ok() &&
                     again.SerializeAsString() == logged.bytes;
  if (!whole) line["bytes"] = base64_of(logged.bytes);
  return json::serialize(line) + "\n";
}

class ShopExport {
 public:
  ShopExport(SqliteHubLog& log, std::string folder) : log_(log), folder_(std::move(folder)) {}

  OrError<ExportedShop> write(std::int64_t now_utc_ms) {
    shop_.id = log_.shop();
    shop_.name = log_.shop_name();
    for (const auto& made : {make_folder(folder_), make_folder(folder_ + "/sheets")}) {
      if (!made) return tl::unexpected(made.error());
    }
    for (const auto& written : {write_entries(), write_devices(), write_self(now_utc_ms)}) {
      if (!written) return tl::unexpected(written.error());
    }
    return shop_;
  }

 private:
  OrError<void> write_entries() {
    const auto last = log_.last_position();
    if (!last) return tl::unexpected(last.error());
    OutFile lines(folder_ + "/entries.jsonl");
    for (std::uint64_t after = 0; after < *last;) {
      std::size_t visited = 0;
      OrError<void> sheet_written;
      const auto read = log_.visit(after, [&](const LoggedEntry& logged) {
        if (logged.position > *last || visited++ == kEntriesAtOnce) return false;
        proto::Entry entry;
        const bool readable =
            entry.ParseFromArray(logged.bytes.data(), static_cast<int>(logged.bytes.size()));
        titles_.learn(entry);
        lines.put(line_of(logged, entry, readable, titles_.of(entry)));
        if (entry.has_sheet_revision()) sheet_written = write_sheet(logged.position, entry);
        after = logged.position;
        ++shop_.entries;
        return sheet_written.has_value();
      });
      if (!read) return read;
      if (!sheet_written) return sheet_written;
    }
    return lines.close();
  }

  OrError<void> write_sheet(std::uint64_t position, const proto::Entry& entry) {
    const std::string& text = entry.sheet_revision().sheet();
    ++(text.empty() ? shop_.sheets_elsewhere : shop_.sheets);
    if (text.empty()) return {};
    return write_file(fmt::format("{}/sheets/{:08}.textproto", folder_, position), text);
  }

  OrError<void> write_devices() {
    const auto devices = log_.devices();
    if (!devices) return tl::unexpected(devices.error());
    json::array all;
    for (const HubDevice& device : *devices) {
      json::object one;
      one["device"] = hex_of(device.device);
      if (device.lineage != device.device) one["was"] = hex_of(device.lineage);
      one["role"] = role_word(device.role);
      one["label"] = device.label;
      one["joined"] = utc_text(device.joined_utc_ms);
      one["revoked"] = device.revoked;
      all.push_back(std::move(one));
    }
    shop_.devices = all.size();
    return write_file(folder_ + "/devices.json", json::serialize(all) + "\n");
  }

  OrError<void> write_self(std::int64_t now_utc_ms) {
    const auto epochs = log_.epochs();
    if (!epochs) return tl::unexpected(epochs.error());
    json::array told;
    for (const HubEpoch& epoch : *epochs) {
      told.push_back({{"id", hex_of(epoch.id)}, {"began_after", epoch.began_after}});
    }
    json::object self;
    self["format"] = 1;
    self["shop"] = shop_.id;
    self["name"] = shop_.name;
    self["exported"] = utc_text(now_utc_ms);
    self["entries"] = shop_.entries;
    self["epochs"] = std::move(told);
    return write_file(folder_ + "/shop.json", json::serialize(self) + "\n");
  }

  SqliteHubLog& log_;
  std::string folder_;
  ExportedShop shop_;
  DutyTitles titles_;
};

}  // namespace

OrError<std::vector<ExportedShop>> export_hub(const HubFolder& folder, const std::string& shop,
                                              const std::string& to, std::int64_t now_utc_ms) {
  std::error_code failure;
  if (fs::exists(to, failure) && !fs::is_empty(to, failure)) {
    return write_error(to, "is there already and not empty; choose another folder");
  }
  std::vector<std::unique_ptr<SqliteHubLog>> logs;
  if (!shop.empty()) {
    auto log = folder.find_shop(shop);
    if (!log) return tl::unexpected(log.error());
    logs.push_back(std::move(*log));
  } else {
    const auto ids = folder.shop_ids();
    if (!ids) return tl::unexpected(ids.error());
    for (const std::string& id : *ids) {
      auto log = folder.open_shop(id, {});
      if (!log) return tl::unexpected(log.error());
      logs.push_back(std::move(*log));
    }
  }
  // The name is taken when all is there: half an export cannot pass for a whole one.
  const std::string making = to + ".part";
  fs::remove_all(making, failure);
  const auto made = make_folder(making);
  if (!made) return tl::unexpected(made.error());
  std::vector<ExportedShop> exported;
  for (const auto& log : logs) {
    const auto written =
        ShopExport(*log, fmt::format("{}/{}", making, log->shop())).write(now_utc_ms);
    if (!written) return tl::unexpected(written.error());
    exported.push_back(*written);
  }
  fs::remove(to, failure);  // an empty folder
  fs::rename(making, to, failure);
  if (failure) return write_error(to, "could not take its name: " + failure.message());
  return exported;
}

}  // namespace chipfall
