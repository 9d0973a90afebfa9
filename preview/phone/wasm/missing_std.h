#pragma once

// What the core uses of C++20's library and the one that comes with Emscripten 3.1.6 (libc++ 13)
// lacks: the algorithms on ranges, and the order of strings by <=>. Same names and meaning, as far
// as the core needs them; included before every file of the phone's build, and only there. A newer
// libc++ makes this file needless.

#ifdef __cplusplus
#include <version>
#if defined(_LIBCPP_VERSION) && _LIBCPP_VERSION < 15000

#include <algorithm>
#include <compare>
#include <cstdint>
#include <functional>
#include <initializer_list>
#include <iterator>
#include <numeric>
#include <string>
#include <utility>
#include <vector>

namespace std {

inline strong_ordering operator<=>(const string& a, const string& b) {
  const int order = a.compare(b);
  return order < 0   ? strong_ordering::less
         : order > 0 ? strong_ordering::greater
                     : strong_ordering::equal;
}

/// Of numbers alone, which have no NaN where the core sorts.
template <>
inline strong_ordering strong_order(const double& a, const double& b) {
  return a < b ? strong_ordering::less : a > b ? strong_ordering::greater : strong_ordering::equal;
}

template <typename To, typename From>
constexpr To bit_cast(const From& from) noexcept {
  return __builtin_bit_cast(To, from);
}

namespace ranges {

/// The value as seen through a projection, compared with the standard's defaults.
template <typename Compare, typename Projection>
auto chipfall_by(Compare& compare, Projection& projection) {
  return [&](auto&& a, auto&& b) -> bool {
    return invoke(compare, invoke(projection, a), invoke(projection, b));
  };
}

template <typename Test, typename Projection>
auto chipfall_if(Test& test, Projection& projection) {
  return [&](auto&& a) -> bool { return invoke(test, invoke(projection, a)); };
}

template <typename Value, typename Projection>
auto chipfall_is(const Value& value, Projection& projection) {
  return [&](auto&& a) -> bool { return invoke(projection, a) == value; };
}

template <typename Range, typename Value, typename Projection = identity>
auto find(Range&& range, const Value& value, Projection projection = {}) {
  return std::find_if(std::begin(range), std::end(range), chipfall_is(value, projection));
}

template <typename Range, typename Test, typename Projection = identity>
auto find_if(Range&& range, Test test, Projection projection = {}) {
  return std::find_if(std::begin(range), std::end(range), chipfall_if(test, projection));
}

template <typename Range, typename Value, typename Projection = identity>
auto count(Range&& range, const Value& value, Projection projection = {}) {
  return std::count_if(std::begin(range), std::end(range), chipfall_is(value, projection));
}

template <typename Range, typename Test, typename Projection = identity>
auto count_if(Range&& range, Test test, Projection projection = {}) {
  return std::count_if(std::begin(range), std::end(range), chipfall_if(test, projection));
}

template <typename Range, typename Test, typename Projection = identity>
bool any_of(Range&& range, Test test, Projection projection = {}) {
  return std::any_of(std::begin(range), std::end(range), chipfall_if(test, projection));
}

template <typename Range, typename Test, typename Projection = identity>
bool all_of(Range&& range, Test test, Projection projection = {}) {
  return std::all_of(std::begin(range), std::end(range), chipfall_if(test, projection));
}

template <typename Range, typename Compare = std::less<>, typename Projection = identity>
auto min_element(Range&& range, Compare compare = {}, Projection projection = {}) {
  return std::min_element(std::begin(range), std::end(range), chipfall_by(compare, projection));
}

template <typename Range, typename Compare = std::less<>, typename Projection = identity>
auto max_element(Range&& range, Compare compare = {}, Projection projection = {}) {
  return std::max_element(std::begin(range), std::end(range), chipfall_by(compare, projection));
}

template <typename Range, typename Compare = std::less<>, typename Projection = identity>
auto min(Range&& range, Compare compare = {}, Projection projection = {}) {
  return *std::min_element(std::begin(range), std::end(range), chipfall_by(compare, projection));
}

/// Whether element a goes before b, whatever they are.
struct ChipfallOrder {
  const void* elements;
  bool (*before)(const void* elements, uint32_t a, uint32_t b);
  bool operator()(uint32_t a, uint32_t b) const { return before(elements, a, b); }
};

/// Which element comes first, which second, and so on. Compiled once; each std::sort of another
/// type is a thousand bytes.
__attribute__((noinline)) inline vector<uint32_t> chipfall_order(size_t count,
                                                                 ChipfallOrder order) {
  vector<uint32_t> places(count);
  iota(places.begin(), places.end(), 0U);
  std::stable_sort(places.begin(), places.end(), order);
  return places;
}

template <typename Range, typename Compare = std::less<>, typename Projection = identity>
void stable_sort(Range&& range, Compare compare = {}, Projection projection = {}) {
  const auto first = std::begin(range);
  const auto less = [&](uint32_t a, uint32_t b) -> bool {
    return invoke(compare, invoke(projection, first[a]), invoke(projection, first[b]));
  };
  using Less = decltype(less);
  vector<uint32_t> from = chipfall_order(static_cast<size_t>(std::end(range) - first),
                                         {&less, [](const void* less_of, uint32_t a, uint32_t b) {
                                            return (*static_cast<Less*>(less_of))(a, b);
                                          }});
  // Along each cycle of places, with one element held.
  for (uint32_t start = 0; start < from.size(); ++start) {
    if (from[start] == start) continue;
    auto held = std::move(first[start]);
    uint32_t to = start;
    while (from[to] != start) {
      first[to] = std::move(first[from[to]]);
      to = std::exchange(from[to], to);
    }
    first[to] = std::move(held);
    from[to] = to;
  }
}

template <typename Range, typename Compare = std::less<>, typename Projection = identity>
void sort(Range&& range, Compare compare = {}, Projection projection = {}) {
  ranges::stable_sort(range, std::move(compare), std::move(projection));
}

template <typename Range, typename Value, typename Compare = std::less<>,
          typename Projection = identity>
auto lower_bound(Range&& range, const Value& value, Compare compare = {},
                 Projection projection = {}) {
  return std::lower_bound(std::begin(range), std::end(range), value,
                          [&](auto&& element, const Value& bound) -> bool {
                            return invoke(compare, invoke(projection, element), bound);
                          });
}

template <typename Range, typename Value, typename Compare = std::less<>,
          typename Projection = identity>
auto upper_bound(Range&& range, const Value& value, Compare compare = {},
                 Projection projection = {}) {
  return std::upper_bound(std::begin(range), std::end(range), value,
                          [&](const Value& bound, auto&& element) -> bool {
                            return invoke(compare, bound, invoke(projection, element));
                          });
}

template <typename Range, typename To>
void copy(Range&& range, To to) {
  std::copy(std::begin(range), std::end(range), to);
}

template <typename Range>
void reverse(Range&& range) {
  std::reverse(std::begin(range), std::end(range));
}

template <typename Range, typename Middle>
void rotate(Range&& range, Middle middle) {
  std::rotate(std::begin(range), middle, std::end(range));
}

}  // namespace ranges
}  // namespace std

#endif
#endif
