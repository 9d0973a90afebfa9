#pragma once

#include <cstdint>
#include <functional>
#include <memory>
#include <string>

#include "core/door/chipfall.h"
#include "core/proto/door.pb.h"
#include "core/shop/error.h"
#include "preview/terminal/retelling.h"

namespace chipfall {

/// The door as this shell uses it: through the C interface, so that what it shows is what a phone
/// would show.
class DoorClient {
 public:
  /// An empty folder keeps nothing. `must_exist` refuses a folder where nothing was recorded yet.
  /// `clock` gives ms since 1970 in UTC; without one it is the system's.
  static Result<DoorClient> open(const std::string& folder, bool must_exist,
                                 std::function<std::int64_t()> clock = {});

  /// From now on, for all clients of this process: answers in this language (core/door/language.h;
  /// the door has pseudo-locales alone). Empty: English as the door says it. Before the first ask.
  static void speak(const std::string& language);
  static const std::string& spoken();

  /// The answer, or the mistakes that came instead of one.
  Result<proto::Response> ask(const proto::Request& request);

  /// Another number than before: something on a screen may have changed, perhaps by another
  /// program.
  std::uint64_t changes();

 private:
  struct Closer {
    void operator()(cf_door* door) const { cf_close(door); }
  };
  Result<proto::Response> answer(const proto::Request& request);

  std::unique_ptr<cf_door, Closer> door_;
  Retelling retelling_;
};

}  // namespace chipfall
