#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "core/shop/error.h"
#include "core/shop/session.h"
#include "core/shop/shop.h"

namespace chipfall::proto {
class Session;
class ShopSheet;
}  // namespace chipfall::proto

/// From text to checked values, in one step each.
///
/// Every function reads the whole text and returns either a complete value or every mistake found,
/// each with file, line, column and field path, in the order of the text; never a part of a value.
/// No input crashes them. Texts over kMostSheetBytes and lists over their limits are refused.
namespace chipfall {

/// A text and the name by which its mistakes are reported.
struct Text {
  std::string name;
  std::string content;
  /// What the text says, as bytes of its protobuf message: read in its place.
  std::optional<std::string> message = std::nullopt;
};

inline constexpr size_t kMostSheetBytes = 4 << 20;  ///< 100 times a large shop
inline constexpr int kMostZones = 2000;             ///< 100 times a community shop
inline constexpr int kMostMachines = 1000;
inline constexpr int kMostCorners = 500;  ///< of one polygon
inline constexpr int kMostUses = 1000;
inline constexpr int kMostFinished = 5000;  ///< years of timed duties; learning looks at the last
inline constexpr int kMostListed = 1000;    ///< entries of any other list
inline constexpr size_t kMostMistakes = 1000;  ///< reported at once; nobody mends more in one go

Result<Library> load_library(const std::vector<Text>& texts);
Result<Shop> load_shop(const Text& text, const Library& library);
/// The same as the message, which the ledger keeps for devices that read no text; build_shop may
/// run on it.
Result<proto::ShopSheet> load_shop_message(const Text& text, const Library& library);
Result<Session> load_session(const Text& text, const Shop& shop);
/// The same as the message, which the ledger keeps; build_session may run on it.
Result<proto::Session> load_session_message(const Text& text, const Shop& shop);
Result<ShopState> load_state(const Text& text, const Shop& shop);

/// The library in `checklists/` as it was when the program was built.
const Library& builtin_library();

}  // namespace chipfall
