#pragma once

#include <string>
#include <vector>

#include "tests/tools/hub_load/measured.h"

namespace chipfall::load {

/// A fresh device joins a hub that holds so many entries of ten phones and takes them all into its
/// ledger's file, through the link as shells use it.
std::vector<Line> measure_pull(int entries, const std::string& path);

}  // namespace chipfall::load
