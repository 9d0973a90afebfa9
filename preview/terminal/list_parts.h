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

/// Each one's part (when, which duty, with whom, what to fetch), and how much sooner it could end;
/// empty for one person alone.
std::string lanes_text(const google::protobuf::RepeatedPtrField<proto::Lane>& lanes,
                       const proto::Finish& finish, const std::string& sharing, int columns);

/// What the time given has no room for, with its reasons; empty where there is nothing.
std::string passed_on_text(const std::string& heading,
                           const google::protobuf::RepeatedPtrField<proto::PassedOn>& passed_on,
                           int columns);

/// That what must be done takes longer than there is; empty where it does not.
std::string over_text(const std::string& what_stays, const proto::Finish& finish, int columns);

}  // namespace chipfall
