#pragma once

#include <map>
#include <optional>
#include <string>
#include <string_view>

#include "core/door/draft.h"
#include "core/ledger/store.h"

/// Entries of the ledger in words for people. Any entry has words: of a newer version's kinds it
/// says that they are such, and what is missing (a sheet, a session) is left out.
namespace chipfall {

/// One entry, taken apart for a line of the history or a row of the export. Every text is one plain
/// line (`plain_line`).
struct EntryWords {
  std::string kind;   ///< as HistoryLine.kind
  std::string what;   ///< "Done: Vacuum round the planer"; names no person
  std::string name;   ///< what people called it, such as a session's name; may name a person
  std::string place;  ///< may be empty
  std::optional<double> minutes;
  int people = 0;  ///< 0: not said
  std::string reason;
};

/// The text on one line: without control characters and marks that turn the writing direction,
/// which a foreign entry could use to forge what a screen shows.
std::string plain_line(std::string_view text);

/// `12`, `0.5`: at most one decimal.
std::string short_number(double value);

class EntryReader {
 public:
  /// Both outlive it; without a sheet, ids stand in for names.
  EntryReader(LedgerStore& store, const OpenShop* open) : store_(&store), open_(open) {}

  EntryWords words(const proto::Entry& entry);

  /// "Done: Vacuum round the planer, 12 min, 2 people (quick pass)".
  std::string line(const proto::Entry& entry);

 private:
  void put_ending(std::string_view verb, const proto::DutyName& name, EntryWords& out);
  const proto::DutyOwed* owed(const proto::DutyName& name);
  std::string machine(const std::string& id) const;
  std::string bin(const std::string& id) const;
  std::string zone(const std::string& id) const;
  std::string anything(const std::string& id) const;

  LedgerStore* store_;
  const OpenShop* open_;
  /// Sessions whose lists were looked up, by device and sequence.
  std::map<std::pair<std::string, std::uint64_t>, proto::SessionEnded> sessions_;
};

}  // namespace chipfall
