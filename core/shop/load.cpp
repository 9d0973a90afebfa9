#include "core/shop/load.h"

#include <algorithm>
#include <array>
#include <cstdlib>

#include <fmt/format.h>

#include "core/shop/build.h"
#include "core/shop/check_library.h"
#include "core/shop/check_session.h"
#include "core/shop/check_sheet.h"
#include "core/shop/library_bytes.h"
#include "core/shop/read_text.h"

namespace chipfall {
namespace {

/// In the order of the text, and no more than anyone mends in one go.
Errors in_order(Errors errors) {
  std::ranges::stable_sort(errors, {}, [](const Error& error) {
    return std::pair(error.place.line, error.place.column);
  });
  if (errors.size() > kMostMistakes) {
    errors.resize(kMostMistakes);
    errors.push_back(
        {ErrorCode::kOutOfBounds, "more mistakes follow; mend these first", errors.back().place});
    errors.back().place.path.clear();
  }
  return errors;
}

/// Reads the text, checks what it says and locates the mistakes of both.
template <typename Message, typename Check>
Errors read_checked(const Text& text, Message& message, Check check) {
  Reading reading = read_message(text, message);
  if (!reading.complete) return reading.errors;
  for (Error& error : check(message)) {
    error.place = reading.place(error.place.path);
    reading.errors.push_back(std::move(error));
  }
  return in_order(std::move(reading.errors));
}

/// Lists of a library that texts add to, in the order of their field numbers.
constexpr std::array<std::string_view, 4> kLists{"machine_kinds", "stocks", "cleaning_methods",
                                                 "duties"};

std::array<int, 4> sizes(const proto::Library& library) {
  return {library.machine_kinds_size(), library.stocks_size(), library.cleaning_methods_size(),
          library.duties_size()};
}

/// One of a library's texts, and where its entries begin in the merged lists.
struct Part {
  Reading reading;
  std::array<int, 4> first;
};

/// The merged path `stocks[17].family` as `stocks[2].family` of the text that it came from.
Error located(Error error, const std::vector<Part>& parts) {
  const std::string path = error.place.path;
  const size_t open = path.find('[');
  const size_t shut = path.find(']');
  const auto list = std::ranges::find(kLists, std::string_view(path).substr(0, open));
  if (open == std::string::npos || list == kLists.end()) {
    error.place = parts.front().reading.place(path);
    return error;
  }
  const auto which = static_cast<size_t>(list - kLists.begin());
  const int merged = std::atoi(path.c_str() + open + 1);
  const auto part = std::find_if(parts.rbegin(), parts.rend(), [&](const Part& candidate) {
    return candidate.first[which] <= merged;
  });
  error.place = part->reading.place(
      fmt::format("{}[{}{}", *list, merged - part->first[which], path.substr(shut)));
  return error;
}

}  // namespace

Result<Library> load_library(const std::vector<Text>& texts) {
  proto::Library library;
  std::vector<Part> parts;
  Errors errors;
  bool complete = true;
  for (const Text& text : texts) {
    proto::Library more;
    parts.push_back({read_message(text, more), sizes(library)});
    complete &= parts.back().reading.complete;
    std::ranges::copy(parts.back().reading.errors, std::back_inserter(errors));
    library.MergeFrom(more);
  }
  if (complete && !parts.empty()) {
    for (Error& error : check_library(library)) {
      errors.push_back(located(std::move(error), parts));
    }
  }
  if (errors.empty()) return build_library(library);
  // In the order of the texts, each in its own order.
  std::ranges::stable_sort(errors, {}, [&](const Error& error) {
    return std::ranges::find(texts, error.place.file, &Text::name) - texts.begin();
  });
  Errors sorted;
  for (auto from = errors.begin(); from != errors.end();) {
    const auto to = std::find_if(from, errors.end(), [&](const Error& error) {
      return error.place.file != from->place.file;
    });
    std::ranges::copy(in_order({from, to}), std::back_inserter(sorted));
    from = to;
  }
  return tl::unexpected(std::move(sorted));
}

Result<proto::ShopSheet> load_shop_message(const Text& text, const Library& library) {
  proto::ShopSheet sheet;
  Errors errors = read_checked(
      text, sheet, [&](const proto::ShopSheet& read) { return check_sheet(read, library); });
  if (!errors.empty()) return tl::unexpected(std::move(errors));
  return sheet;
}

Result<Shop> load_shop(const Text& text, const Library& library) {
  const Result<proto::ShopSheet> sheet = load_shop_message(text, library);
  if (!sheet) return tl::unexpected(sheet.error());
  return build_shop(*sheet, library);
}

Result<proto::Session> load_session_message(const Text& text, const Shop& shop) {
  proto::Session session;
  Errors errors = read_checked(
      text, session, [&](const proto::Session& read) { return check_session(read, shop); });
  if (!errors.empty()) return tl::unexpected(std::move(errors));
  return session;
}

Result<Session> load_session(const Text& text, const Shop& shop) {
  const Result<proto::Session> session = load_session_message(text, shop);
  if (!session) return tl::unexpected(session.error());
  return build_session(*session, shop);
}

Result<ShopState> load_state(const Text& text, const Shop& shop) {
  proto::ShopState state;
  Errors errors = read_checked(
      text, state, [&](const proto::ShopState& read) { return check_state(read, shop); });
  if (!errors.empty()) return tl::unexpected(std::move(errors));
  return build_state(state, shop);
}

const Library& builtin_library() {
  static const Library library = [] {
    proto::Library read;
    const bool whole = read.ParseFromArray(kLibraryBytes, kLibrarySize);
    // The bytes are part of the program: tests check the texts that they are made from.
    if (!whole || !check_library(read).empty()) std::abort();
    return build_library(read);
  }();
  return library;
}

}  // namespace chipfall
