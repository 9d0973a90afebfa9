#pragma once

#include <string>
#include <vector>

#include "sync/hub_folder.h"

/// Everything that shops own, in files that any program reads: for moving on without Chipfall, or
/// for questions it has no answer to.
///
///     ID/shop.json       the shop: id, name, epochs, when it was exported
///     ID/entries.jsonl   every entry in the order of the log, one JSON object a line: position,
///                        device (hexadecimal), sequence, kind, title of the duty where it ends
///                        one, and the entry itself as core/proto/ledger.proto has it in
///                        JSON. Where that cannot say all of it (fields of a newer version),
///                        `bytes` has it whole in base64.
///     ID/devices.json    who joined, with role and label
///     ID/sheets/         the text of each revision of the shop's sheet, by position in the log
///
/// No secret goes along: no key, no join codes, nothing by which a device is known to be itself.
/// It names people all the same, so folder and files are for their owner only.
namespace chipfall {

struct ExportedShop {
  std::string id, name;
  std::uint64_t entries = 0;
  std::size_t devices = 0, sheets = 0, sheets_elsewhere = 0;  ///< revisions whose text is not here
};

/// Writes all shops, or the one with this id or name, to a new or empty folder. A hub may serve
/// meanwhile: each shop is exported as of the moment when its turn comes. With an error, what was
/// written so far stays, under the name `to` + ".part".
OrError<std::vector<ExportedShop>> export_hub(const HubFolder& folder, const std::string& shop,
                                              const std::string& to, std::int64_t now_utc_ms);

}  // namespace chipfall
