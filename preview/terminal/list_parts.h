#pragma once

#include <map>
#include <string>

#include "core/proto/wind_down.pb.h"

/// What the lists on the terminal have in common, so that they look alike.
namespace chipfall {

/// A head such as "  3. " and the text after it, broken at `columns`, continued below the text.
std::string paragraph(const std::string& head, const std::string& text, int columns);

/// Where each caution was said first, by the duty's number in the list.
using SaidBefore = std::map<std::string, int>;

/// What was said before is only pointed to: a list that repeats itself is not read.
std::string caution_text(const std::string& caution, int order, SaidBefore& said);

/// One person's part: when, which duty, with whom, what to fetch.
std::string lane_text(const proto::Lane& lane, int columns);

}  // namespace chipfall
