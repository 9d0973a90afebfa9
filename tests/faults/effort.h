#pragma once

#include <cstdint>

/// How much of the long fault runs is done. Everything in a plain build; with sanitizers, which
/// slow all of it down, a share: the plain build has been everywhere by then.
namespace chipfall {

#ifdef CHIPFALL_FEWER_FAULTS
constexpr bool kFewerFaults = true;
#else
constexpr bool kFewerFaults = false;
#endif

/// Every so many-th operation of the day; a prime, so that it falls into no rhythm of the day.
constexpr std::int64_t kOperationStride = kFewerFaults ? 7 : 1;
constexpr std::int64_t kHubStride = kFewerFaults ? 13 : 2;  ///< the same, for a hub's longer day
constexpr int kKills = kFewerFaults ? 200 : 2000;
constexpr int kFlips = kFewerFaults ? 60 : 300;

}  // namespace chipfall
