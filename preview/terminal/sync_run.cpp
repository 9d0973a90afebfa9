#include "preview/terminal/sync_run.h"

#include <fmt/format.h>

#include <boost/asio/io_context.hpp>
#include <boost/asio/signal_set.hpp>
#include <filesystem>
#include <ostream>
#include <thread>

#include "preview/terminal/ledger_commands.h"
#include "preview/terminal/saying.h"
#include "sync/installation.h"
#include "sync/link.h"

namespace chipfall {

namespace {

int code(SyncExit exit) { return static_cast<int>(exit); }

int explain_sync(const Errors& errors, std::ostream& err) {
  const bool mistake = errors.empty() || errors[0].code == ErrorCode::kMistake;
  explain(errors, err, kMistakes);
  return code(mistake ? SyncExit::kMistake : SyncExit::kFailed);
}

/// Every message of the link goes through the door, and back.
class DoorTalk : public LinkTalk {
 public:
  DoorTalk(DoorClient& door, std::string installation, std::ostream& out)
      : door_(door), installation_(std::move(installation)), out_(out) {}

  OrError<Step> connected(const std::string& channel_binding) override {
    proto::SyncEvent event;
    event.mutable_opened()->set_channel_binding(channel_binding);
    return asked(std::move(event), true);
  }
  OrError<Step> receive(std::string_view message) override {
    proto::SyncEvent event;
    event.set_message(std::string(message));
    return asked(std::move(event), true);
  }
  OrError<Step> passed() override {
    proto::SyncEvent event;
    event.mutable_passed();
    return asked(std::move(event), true);
  }
  OrError<Step> disconnected(bool wrong_key, const std::string& why) override {
    proto::SyncEvent event;
    event.mutable_closed()->set_wrong_key(wrong_key);
    event.mutable_closed()->set_why(why);
    return asked(std::move(event), !why.empty());
  }
  /// Of the last answer.
  const proto::SyncStep& last() const { return last_; }
  /// The refusal of the last connection that had one.
  const std::optional<proto::SyncRefusal>& refusal() const { return refusal_; }

 private:
  OrError<Step> asked(proto::SyncEvent event, bool tell) {
    event.set_steady_ms(moment_now().steady_ms);
    event.set_installation(installation_);
    proto::Request request;
    *request.mutable_sync() = std::move(event);
    Result<proto::Response> response = door_.ask(request);
    if (!response) return tl::unexpected(response.error().front());
    last_ = std::move(*response->mutable_sync());
    const proto::SyncState& state = last_.state();
    if (state.has_refusal()) refusal_ = state.refusal();
    if (tell && state.text() != line_) {
      line_ = state.text();
      out_ << line_ << std::endl;
    }
    Step step;
    step.send.assign(last_.send().begin(), last_.send().end());
    step.close = last_.close();
    step.up_to_date = state.link() == "up to date";
    if (last_.has_connect_in_ms()) step.connect_in_ms = last_.connect_in_ms();
    return step;
  }

  DoorClient& door_;
  std::string installation_;
  std::ostream& out_;
  proto::SyncStep last_;
  std::optional<proto::SyncRefusal> refusal_;
  std::string line_;
};

int end_of(LinkEnd end, const Link& link, const DoorTalk& talk, std::ostream& err) {
  const std::string refused = talk.refusal() ? talk.refusal()->sentence() : std::string();
  switch (end) {
    case LinkEnd::kUpToDate:
    case LinkEnd::kStopped:
      return code(SyncExit::kDone);
    case LinkEnd::kOffline:
      err << (refused.empty() ? link.last_failure() : refused)
          << ". Nothing is lost: what is saved here goes to the hub another time.\n";
      return code(SyncExit::kNotYet);
    case LinkEnd::kRefused:
      err << (refused.empty() ? "the hub refused" : refused) << "\n";
      return code(SyncExit::kMistake);
    case LinkEnd::kWrongKey:
      err << link.last_failure() << "\n";
      return code(SyncExit::kWrongKey);
  }
  return code(SyncExit::kFailed);
}

/// Waits for SIGINT and SIGTERM on a thread of its own and stops the link then.
class StopOnSignals {
 public:
  explicit StopOnSignals(Link& link) : signals_(io_, SIGINT, SIGTERM) {
    signals_.async_wait([&link](boost::system::error_code cancelled, int) {
      if (!cancelled) link.stop();
    });
    thread_ = std::thread([this] { io_.run(); });
  }
  StopOnSignals(const StopOnSignals&) = delete;
  StopOnSignals& operator=(const StopOnSignals&) = delete;
  ~StopOnSignals() {
    io_.stop();
    thread_.join();
  }

 private:
  boost::asio::io_context io_;
  boost::asio::signal_set signals_;
  std::thread thread_;
};

/// Joining makes the folder, since it is often the first thing that a new device does.
Result<DoorClient> open_door(const SyncOptions& options) {
  const bool joining = !options.code.empty();
  if (joining && !options.folder.empty()) {
    std::error_code failed;
    std::filesystem::create_directories(options.folder, failed);
    if (failed) {
      return tl::unexpected(Errors{flag_error(
          "--ledger " + options.folder, "the folder could not be made: " + failed.message())});
    }
  }
  return open_ledger(options.folder, !joining);
}

}  // namespace

int run_sync(const SyncOptions& options, std::ostream& out, std::ostream& err) {
  const bool joining = !options.code.empty();
  Result<DoorClient> door = open_door(options);
  if (!door) return explain_sync(door.error(), err);
  const std::string installation = options.installation.empty()
                                       ? installation_name()
                                       : installation_name_in(options.installation);
  if (joining) {
    proto::Request request;
    proto::AskJoin& join = *request.mutable_join();
    join.set_code(options.code);
    join.set_begin(true);
    join.set_label(options.label);
    join.set_installation(installation);
    const Result<proto::Response> joined = door->ask(request);
    if (!joined) return explain_sync(joined.error(), err);
  }
  DoorTalk talk(*door, installation, out);
  const auto now = talk.passed();
  if (!now) return explain_sync({now.error()}, err);
  if (!talk.last().has_hub()) {
    err << "This ledger has not joined a hub: ask the coordinator for a code, then `chipfall join "
           "CODE`.\n";
    return code(SyncExit::kMistake);
  }
  const proto::HubPlace& hub = talk.last().hub();
  LinkOptions link_options;
  link_options.once = !options.stay;
  Link link(talk, {hub.host(), static_cast<std::uint16_t>(hub.port()), hub.fingerprint()},
            link_options);
  const StopOnSignals signals(link);
  const auto end = link.run();
  if (!end) return explain_sync({end.error()}, err);
  const proto::SyncState& state = talk.last().state();
  if (joining && !state.joining() && !state.shop().empty() && *end == LinkEnd::kUpToDate) {
    out << fmt::format("joined \"{}\"\n", state.shop());
  }
  return end_of(*end, link, talk, err);
}

}  // namespace chipfall
