#pragma once

#include <string>

#include "core/proto/shop.pb.h"
#include "core/shop/shop.h"

/// What a sheet means where it says nothing, for those who check it and those who build from it.
namespace chipfall {

/// Corners of a list x, y, x, y, ...; a last figure without its partner is left out.
Polygon corners_of(const google::protobuf::RepeatedField<double>& figures);

/// Corners of a zone, or of its box; counter-clockwise.
Polygon corners_of(const proto::Zone& zone);

/// Height above the floor: 0 floor, 0.9 top and machine, 2.2 ledge [c.p.] where none is given.
double height_m_of(const proto::Zone& zone, ZoneKind kind);

/// Share of each class that stays in a bin. Classes left out go by the kind of bin: cyclones and
/// drums before a bag let a little pass, bags and tubs with a filter of their own only fine dust.
PerClass keeps_of(const proto::Bin& bin, BinKind kind);

/// What people call an entry: its name, or its id where it has none.
template <typename Entry>
const std::string& name_of(const Entry& entry) {
  return entry.name().empty() ? entry.id() : entry.name();
}

}  // namespace chipfall
