#include "preview/terminal/door_client.h"

#include <chrono>
#include <random>
#include <stdexcept>

namespace chipfall {
namespace {

using Clock = std::function<std::int64_t()>;

std::int64_t system_clock(void*) {
  using std::chrono::duration_cast;
  using std::chrono::milliseconds;
  const auto since_1970 = std::chrono::system_clock::now().time_since_epoch();
  return duration_cast<milliseconds>(since_1970).count();
}

std::int64_t given_clock(void* user) { return (*static_cast<Clock*>(user))(); }

void release_clock(void* user) { delete static_cast<Clock*>(user); }

std::int32_t random_bytes(void*, std::uint8_t* bytes, std::uint64_t size) {
  try {
    std::random_device source;
    for (std::uint64_t i = 0; i < size; ++i) bytes[i] = static_cast<std::uint8_t>(source());
    return 0;
  } catch (const std::exception&) {
    return 1;
  }
}

std::string& language_spoken() {
  static std::string language;
  return language;
}

/// Bytes of the door, given back at the end.
struct Handed {
  cf_bytes bytes{nullptr, 0};

  Handed() = default;
  Handed(const Handed&) = delete;
  Handed& operator=(const Handed&) = delete;
  ~Handed() { cf_free(&bytes); }

  proto::Response response() const {
    proto::Response out;
    if (!out.ParseFromArray(bytes.data, static_cast<int>(bytes.size))) {
      throw std::runtime_error("the door's answer cannot be read");
    }
    return out;
  }
};

ErrorCode code_of(const std::string& word) {
  if (word == "unreadable") return ErrorCode::kUnreadable;
  if (word == "unknown") return ErrorCode::kUnknown;
  if (word == "out of bounds") return ErrorCode::kOutOfBounds;
  return ErrorCode::kMistake;
}

Errors errors_of(const proto::Response& response) {
  Errors errors;
  for (const proto::Mistake& mistake : response.mistakes()) {
    errors.push_back({code_of(mistake.code()),
                      mistake.message(),
                      {mistake.file(), mistake.line(), mistake.column(), mistake.path()}});
  }
  return errors;
}

void check_status(cf_status status) {
  if (status == CF_NO_MEMORY) throw std::bad_alloc();
  if (status != CF_OK) throw std::runtime_error("the door failed; please report this");
}

}  // namespace

Result<DoorClient> DoorClient::open(const std::string& folder, bool must_exist, Clock clock) {
  cf_options options{};
  options.size = sizeof options;
  options.flags = must_exist ? CF_MUST_EXIST : 0;
  options.data_folder = folder.data();
  options.data_folder_size = folder.size();
  options.clock = clock ? given_clock : system_clock;
  options.random = random_bytes;
  auto user = clock ? std::make_unique<Clock>(std::move(clock)) : nullptr;
  if (user) {
    options.user = user.get();
    options.release_user = release_clock;
  }
  cf_door* door = nullptr;
  Handed error;
  const cf_status status = cf_open(&options, &door, &error.bytes);
  if (status != CF_BAD_ARGUMENT) static_cast<void>(user.release());  // the door's to release now
  if (status == CF_NOT_OPENED) return tl::unexpected(errors_of(error.response()));
  if (status == CF_BAD_ARGUMENT) {
    return tl::unexpected(Errors{{ErrorCode::kMistake, "is no path", {folder, 0, 0, ""}}});
  }
  check_status(status);
  DoorClient client;
  client.door_.reset(door);
  return client;
}

void DoorClient::speak(const std::string& language) { language_spoken() = language; }
const std::string& DoorClient::spoken() { return language_spoken(); }

Result<proto::Response> DoorClient::ask(const proto::Request& request) {
  if (spoken().empty()) return answer(request);
  if (retelling_.empty()) {
    proto::Request table;
    table.mutable_phrase_list()->set_language(spoken());
    const Result<proto::Response> told = answer(table);
    if (!told) return told;
    retelling_ = Retelling(told->phrase_list());
  }
  proto::Request with_phrases = request;
  with_phrases.set_phrases(true);
  with_phrases.set_language(spoken());
  return answer(with_phrases);
}

Result<proto::Response> DoorClient::answer(const proto::Request& request) {
  const std::string bytes = request.SerializeAsString();
  Handed answer;
  check_status(cf_call(door_.get(), reinterpret_cast<const std::uint8_t*>(bytes.data()),
                       bytes.size(), &answer.bytes));
  proto::Response response = answer.response();
  if (!retelling_.empty()) retelling_.retell(response);
  if (response.mistakes_size() > 0) return tl::unexpected(errors_of(response));
  return response;
}

std::uint64_t DoorClient::changes() {
  std::uint64_t changes = 0;
  check_status(cf_poll(door_.get(), &changes));
  return changes;
}

}  // namespace chipfall
