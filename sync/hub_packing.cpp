#include "sync/hub_packing.h"

#include <algorithm>
#include <boost/algorithm/string/predicate.hpp>
#include <boost/algorithm/string/trim.hpp>
#include <boost/beast/http/rfc7230.hpp>
#include <charconv>
#include <string_view>

namespace chipfall {

namespace http = boost::beast::http;

namespace {

/// Of what follows a coding, as in "; q=0.8"; 1 where it says nothing.
double weight_in(std::string_view parameters) {
  for (const auto& [name, value] : http::param_list({parameters.data(), parameters.size()})) {
    if (!boost::algorithm::iequals(name, "q")) continue;
    double weight = 0;
    const auto read = std::from_chars(value.data(), value.data() + value.size(), weight);
    const bool whole = read.ec == std::errc() && read.ptr == value.data() + value.size();
    return whole && weight >= 0 && weight <= 1 ? weight : 0;
  }
  return 1;
}

/// 0: not at all. What is said of the coding itself counts before what is said of all others (`*`).
double weight_of(const HubRequest& request, const char* coding) {
  std::optional<double> others;
  const auto [begin, end] = request.equal_range(http::field::accept_encoding);
  for (auto line = begin; line != end; ++line) {
    // Not Beast's ext_list, which gives a coding without a weight that of the one before it.
    std::string_view rest(line->value().data(), line->value().size());
    while (!rest.empty()) {
      const std::string_view one = rest.substr(0, rest.find(','));
      rest.remove_prefix(std::min(rest.size(), one.size() + 1));
      const std::size_t named = std::min(one.find(';'), one.size());
      const auto name = boost::algorithm::trim_copy(one.substr(0, named));
      const double weight = weight_in(one.substr(named));
      if (boost::algorithm::iequals(name, coding)) return weight;
      if (name == "*") others = weight;
    }
  }
  return others.value_or(0);
}

}  // namespace

std::optional<std::size_t> packing_for(const HubRequest& request, const Packed& there) {
  std::optional<std::size_t> best;
  double most = 0;
  for (std::size_t i = 0; i < kPackings.size(); ++i) {
    const double weight = there[i] ? weight_of(request, kPackings[i].coding) : 0;
    if (weight <= most) continue;
    most = weight;
    best = i;
  }
  return best;
}

}  // namespace chipfall
