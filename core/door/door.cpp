#include "core/door/door.h"

#include <array>

#include <fmt/format.h>

#include "core/door/answer.h"
#include "core/door/entry_words.h"
#include "core/door/language.h"
#include "core/door/map_answer.h"
#include "core/door/phrases.h"
#include "core/door/refusal.h"
#include "core/door/shop_lists.h"

namespace chipfall {
namespace {

std::string random_bytes(const DoorOptions& options) {
  std::array<std::uint8_t, kDeviceBytes> bytes{};
  if (!options.random || !options.random(bytes)) return {};
  return {bytes.begin(), bytes.end()};
}

/// Whether the shop was loaded from this revision, as far as both have a text. A revision without a
/// message is of an older program, and worth keeping again for devices that read no text.
bool is_of(const proto::SheetRevision& revision, const OpenShop& shop) {
  const bool other_text =
      !shop.text.empty() && !revision.sheet().empty() && revision.sheet() != shop.text;
  return revision.message() == shop.message && !other_text;
}

}  // namespace

std::string mistakes_response(const Errors& errors) {
  proto::Response response;
  response.set_format(kDoorFormat);
  refuse(errors, response);
  return response.SerializeAsString();
}

OrError<std::unique_ptr<Door>> Door::open(DoorOptions options) {
  std::unique_ptr<Door> door(new Door(std::move(options)));
  if (!door->options_.data_folder.empty()) {
    const OrError<void> opened = door->open_ledger();
    if (!opened) return tl::unexpected(opened.error());
  }
  return door;
}

OrError<void> Door::open_ledger() {
  const auto refusal = [&](ErrorCode code, std::string message) {
    Error error = mistake(code, std::move(message));
    error.place.file = options_.data_folder;
    return tl::unexpected(std::move(error));
  };
  const std::string& folder = options_.data_folder;
  if (!exists_for_sqlite(folder + "/.")) {
    return refusal(ErrorCode::kUnreadable,
                   "there is no such folder. Make it first, or name the one that has the ledger.");
  }
  const std::string path =
      fmt::format("{}{}{}", folder, folder.ends_with('/') ? "" : "/", kLedgerFile);
  LedgerOptions options;
  options.may_create = !exists_for_sqlite(path);
  if (options.may_create) {
    if (options_.must_exist) {
      return refusal(ErrorCode::kUnreadable,
                     "nothing is recorded in this folder yet. Keep a shop sheet there first.");
    }
    options.device = random_bytes(options_);
    if (options.device.empty()) {
      return refusal(ErrorCode::kUnreadable,
                     "no random bytes to name this device by; open the door with a source of them");
    }
  }
  OrError<LedgerStore> store = LedgerStore::open(path, options);
  if (!store && !options.may_create && !options_.must_exist) {
    // A file whose making broke off, for want of power or memory, has no owner yet and gets one. A
    // ledger that has one refuses another, so this changes nothing of it.
    LedgerOptions anew = options;
    anew.device = random_bytes(options_);
    if (!anew.device.empty()) {
      OrError<LedgerStore> second = LedgerStore::open(path, anew);
      if (second) store = std::move(second);
    }
  }
  if (!store) return tl::unexpected(store.error());
  store_.emplace(*std::move(store));
  const OrError<std::string> epoch = store_->epoch();
  if (!epoch) return tl::unexpected(epoch.error());
  if (epoch->empty() && options_.random) {
    const OrError<void> named = store_->set_epoch(random_bytes(options_));
    if (!named) return named;
  }
  OrError<Views> views = Views::open(*store_);
  if (!views) return tl::unexpected(views.error());
  views_.emplace(*std::move(views));
  return refresh();
}

OrError<void> Door::refresh() {
  if (!store_) return {};
  const OrError<std::int64_t> last = store_->last_arrival();
  if (!last) return tl::unexpected(last.error());
  if (*last == folded_) return {};
  const OrError<void> caught_up = views_->catch_up();
  if (!caught_up) return caught_up;
  const auto sheet = views_->sheet();
  if (!sheet) return tl::unexpected(sheet.error());
  if (*sheet && kept_sheet_ != (*sheet)->told.entry) use_kept_sheet(**sheet);
  folded_ = *last;
  ++changes_;
  return {};
}

void Door::use_kept_sheet(const SheetFact& fact) {
  kept_sheet_ = fact.told.entry;
  if (shop_ && is_of(fact.revision, *shop_)) {
    borrowed_ = false;
    sheet_errors_.clear();
    return;
  }
  if (borrowed_) return;
  const std::string& message = fact.revision.message();
  Result<OpenShop> read =
      open_shop({"kept sheet", fact.revision.sheet(),
                 message.empty() ? std::nullopt : std::optional<std::string>(message)});
  if (read) {
    shop_.emplace(*std::move(read));
    sheet_errors_.clear();
  } else {
    sheet_errors_ = read.error();  // the sheet before, if there is one, still serves
  }
}

std::uint64_t Door::changes() {
  // What cannot be read now is told by the next call.
  const OrError<void> fresh = refresh();
  static_cast<void>(fresh);
  return changes_;
}

std::string Door::call(std::string_view bytes) {
  struct Exchange {
    proto::Request request;
    proto::Response response;
  };
  auto exchange = std::make_unique<Exchange>();
  try {
    return answered(bytes, exchange->request, exchange->response);
  } catch (...) {
    // Where memory ended while protobuf made one of a message's alternatives, the message says that
    // it has it all the same and would take apart what never was. So what was begun stays where it
    // is.
    static_cast<void>(exchange.release());
    throw;
  }
}

std::string Door::answered(std::string_view bytes, proto::Request& request,
                           proto::Response& response) {
  response.set_format(kDoorFormat);
  if (bytes.size() > kMostRequestBytes) {
    refuse(mistake(ErrorCode::kOutOfBounds, fmt::format("a request of {} bytes; at most {}",
                                                        bytes.size(), kMostRequestBytes)),
           response);
  } else if (!request.ParseFromArray(bytes.data(), static_cast<int>(bytes.size()))) {
    refuse(mistake(ErrorCode::kUnreadable,
                   "not a request: the bytes are cut short or damaged, or a text is not UTF-8"),
           response);
  } else {
    response.set_number(request.number());
    if (request.format() > kDoorFormat) {
      refuse(mistake(ErrorCode::kUnknown,
                     fmt::format("asked in format {}; this version knows {}. Bring it up to date.",
                                 request.format(), kDoorFormat)),
             response);
    } else {
      answer(request, response);
    }
  }
  // The answer is one or the other, so that no shell shows half of something.
  if (response.mistakes_size() > 0) response.clear_answer();
  std::string plain = response.SerializeAsString();
  if (!request.phrases()) return plain;
  response.set_right_to_left(is_right_to_left(request.language()));
  for (proto::Said& said : said_in(plain, request.language())) {
    *response.add_said() = std::move(said);
  }
  return response.SerializeAsString();
}

void Door::answer(const proto::Request& request, proto::Response& response) {
  const OrError<void> fresh = refresh();
  if (!fresh) return refuse(fresh.error(), response);
  // A phone learns which zone's rules to give from the sheet, so they may come after it.
  if (shop_ && shop_->clock.is_utc_instead()) shop_->clock = ShopClock(shop_->shop.time_zone);
  switch (request.ask_case()) {
    case proto::Request::kLoadSheet:
      return load_sheet(request.load_sheet(), response);
    case proto::Request::kCheckSession:
    case proto::Request::kCheckState:
      return check(request, response);
    case proto::Request::kListShop:
      return list_shop(response);
    case proto::Request::kWindDown:
      return plan(request.wind_down(), false, response);
    case proto::Request::kDrawMap:
      return plan(request.draw_map(), true, response);
    case proto::Request::kRecord:
      return record(request.record(), response);
    case proto::Request::kStanding:
      return standing(response);
    case proto::Request::kHistory:
      return history(request.history(), response);
    case proto::Request::kExportRecord:
      return export_rows(request.export_record(), response);
    case proto::Request::kSaving:
      return saving(response);
    case proto::Request::kLockUp:
      return lock_up(request.lock_up(), response);
    case proto::Request::kBins:
    case proto::Request::kRound:
    case proto::Request::kCoordinator:
      return coordinator(request, response);
    case proto::Request::kDrawShop:
      return draw_shop(response);
    case proto::Request::kList:
      return list(request.list(), response);
    case proto::Request::kPhraseList:
      *response.mutable_phrase_list() = catalogue(request.phrase_list().language());
      return;
    case proto::Request::kJoin:
    case proto::Request::kSync:
    case proto::Request::kSyncState:
      return sync(request, response);
    case proto::Request::ASK_NOT_SET:
      break;
  }
  refuse(mistake(ErrorCode::kUnknown,
                 "asks for nothing, or for something that only a newer version knows"),
         response);
}

bool Door::has_shop(proto::Response& response) const {
  if (shop_) return true;
  refuse(sheet_errors_, response);
  if (sheet_errors_.empty()) {
    refuse(mistake(ErrorCode::kUnknown, "there is no shop sheet yet; load one first"), response);
  }
  return false;
}

bool Door::has_ledger(proto::Response& response) const {
  if (store_) return true;
  refuse(mistake(ErrorCode::kUnknown,
                 "opened without a folder, so nothing is kept; open the door with a data folder"),
         response);
  return false;
}

const ShopClock& Door::clock() const {
  static const ShopClock utc("UTC");
  return shop_ ? shop_->clock : utc;
}

std::string Door::since(std::int64_t at_ms) const {
  return fmt::format("{} {}", clock().day_text(at_ms, options_.now_ms()), clock().time_text(at_ms));
}

void Door::load_sheet(const proto::LoadSheet& asked, proto::Response& response) {
  Result<OpenShop> read = open_shop(text_of(asked.sheet()));
  if (!read) return refuse(read.error(), response);
  bool kept = false;
  if (asked.keep()) {
    if (!has_ledger(response)) return;
    const auto last = views_->sheet();
    if (!last) return refuse(last.error(), response);
    if (!*last || !is_of((*last)->revision, *read)) {
      Result<proto::Entry> entry = sheet_entry(asked, *read, options_.now_ms());
      if (!entry) return refuse(entry.error(), response);
      const OrError<void> saved = store_->append(*entry, options_.now_ms());
      if (!saved) return refuse(saved.error(), response);
      kept = true;
    }
  }
  shop_.emplace(*std::move(read));
  borrowed_ = !asked.keep();
  sheet_errors_.clear();
  ++changes_;
  const OrError<void> fresh = refresh();
  if (!fresh) return refuse(fresh.error(), response);
  const Shop& shop = shop_->shop;
  proto::SheetLoaded& loaded = *response.mutable_sheet_loaded();
  loaded.set_shop(shop.name);
  loaded.set_time_zone(shop.time_zone);
  loaded.set_zones(static_cast<int>(shop.zones.size()));
  loaded.set_machines(static_cast<int>(shop.machines.size()));
  loaded.set_bins(static_cast<int>(shop.bins.size()));
  loaded.set_floor_m2(shop.floor_m2());
  loaded.set_kept(kept);
  if (shop_->clock.is_utc_instead()) {
    loaded.set_time_note(fmt::format(
        "The rules of {} are not on this device, so times are told in UTC.", shop.time_zone));
  }
}

void Door::check(const proto::Request& request, proto::Response& response) {
  if (!has_shop(response)) return;
  Errors errors;
  if (request.has_check_session()) {
    const proto::SheetText& text = request.check_session();
    const auto read = load_session(text_of(text), shop_->shop);
    if (!read) errors = read.error();
  } else {
    const proto::SheetText& text = request.check_state();
    const auto read = load_state(text_of(text), shop_->shop);
    if (!read) errors = read.error();
  }
  response.mutable_checked();
  refuse(errors, response);
}

void Door::list_shop(proto::Response& response) {
  if (!has_shop(response)) return;
  OrError<proto::ShopLists> lists =
      shop_lists(*shop_, views_ ? &*views_ : nullptr, store_ ? store_->device() : std::string(),
                 options_.now_ms());
  if (!lists) return refuse(lists.error(), response);
  *response.mutable_shop() = *std::move(lists);
}

void Door::draw_shop(proto::Response& response) {
  if (!has_shop(response)) return;
  if (!views_) {
    *response.mutable_map() = shop_map(*shop_, nullptr);
    return;
  }
  const OrError<const Remembered*> told = remembered();
  if (!told) return refuse(told.error(), response);
  *response.mutable_map() = shop_map(*shop_, *told);
}

void Door::plan(const proto::PlanWindDown& asked, bool map, proto::Response& response) {
  if (!has_shop(response)) return;
  const OrError<Found> before = found();
  if (!before) return refuse(before.error(), response);
  const Result<Worked> worked = work_out(asked, *shop_, *before);
  if (!worked) return refuse(worked.error(), response);
  if (map) {
    *response.mutable_map() =
        session_map(shop_->shop, worked->state, worked->session, worked->evening);
  } else {
    *response.mutable_wind_down() =
        chipfall::answer(shop_->shop, worked->state, worked->session, worked->evening);
  }
}

void Door::record(const proto::Record& asked, proto::Response& response) {
  if (!has_ledger(response) || !has_shop(response)) return;
  Found before;
  if (asked.has_session()) {
    OrError<Found> told = found();
    if (!told) return refuse(told.error(), response);
    before = *std::move(told);
  }
  Result<ToRecord> made = to_record(asked, *shop_, *views_, before, options_.now_ms());
  if (!made) return refuse(made.error(), response);
  const OrError<void> saved = store_->append(made->entry, options_.now_ms());
  if (!saved) return refuse(saved.error(), response);
  // The entry is on disk: whatever goes wrong from here on is told by the next call, for a shell
  // that heard of a failure now would record it twice.
  proto::Recorded& recorded = *response.mutable_recorded();
  recorded.set_format(kMessageFormat);
  recorded.mutable_entry()->set_device(made->entry.device());
  recorded.mutable_entry()->set_sequence(made->entry.sequence());
  recorded.set_event_utc_ms(made->entry.event_utc_ms());
  recorded.set_text(EntryReader(*store_, shop()).line(made->entry));
  if (asked.has_session()) {
    // Without them the duties stay open, and come back all the same.
    static_cast<void>(record_passed_on(*made));
    *recorded.mutable_list() = std::move(made->list);
  }
}

}  // namespace chipfall
