#pragma once

#include <map>
#include <memory>
#include <set>
#include <string>
#include <utility>
#include <vector>

#include "sync/hub_store.h"
#include "tests/faults/disk/faulty_disk.h"

/// A day in the life of a hub's log, the same each time: a new shop, a code and who used it,
/// commits of one entry and of many for several phones, offers that come again, a revoking, a new
/// epoch, the write-ahead log folded, and the hub stopped and started in between.
namespace chipfall {

class HubDay {
 public:
  /// Makes the shop's file: before anything fails.
  HubDay(std::string path, FaultyDisk& disk);

  /// Lives the day to its end or to a cut. After a call that fails, everything that can be read is
  /// looked at while the disk still fails; then the fault ends and the day goes on with the same
  /// open log, as a serving hub does.
  void live();
  /// Opens the log where it is closed and holds it against what it had answered.
  void look();
  bool try_open();
  void close() { log_.reset(); }
  /// Whether reading must work while writing fails: on a full disk it must.
  void reads_must_work(bool must) { reads_must_work_ = must; }

  const std::vector<std::string>& wrong() const { return wrong_; }
  int failures() const { return failures_; }  ///< calls that returned an error
  int acknowledged() const { return int(acknowledged_.size()); }
  int found_unacknowledged() const { return found_unacknowledged_; }
  int read_while_failing() const { return read_while_failing_; }
  int said_full() const { return said_full_; }

 private:
  enum class What { kReopen, kCommit, kOfferAgain, kCode, kRedeem, kRevoke, kEpoch, kFold };
  struct Step {
    What what;
    int phones = 0, entries = 0, text_bytes = 0;
  };
  using Name = std::pair<std::string, std::uint64_t>;

  bool take(const Step& step);
  bool commit(std::vector<Offer> offers);
  bool failed(const Error& error);
  bool done(const OrError<void>& result) { return result ? true : failed(result.error()); }
  std::vector<Offer> offers(const Step& step);
  void hold_against_answers();
  void hold_entries();
  void complain(std::string problem) { wrong_.push_back(std::move(problem)); }

  std::string path_;
  FaultyDisk& disk_;
  std::unique_ptr<SqliteHubLog> log_;
  std::vector<std::string> wrong_;
  bool reads_must_work_ = false;
  int failures_ = 0, found_unacknowledged_ = 0, read_while_failing_ = 0, said_full_ = 0;
  int made_ = 0;

  std::map<std::string, std::uint64_t> sequences_;  // by phone
  std::vector<Offer> last_;                         // what came last, to come again
  std::map<Name, int> commit_of_;                   // which commit each entry was first in
  std::map<int, int> entries_of_commit_;
  std::map<Name, std::string> made_bytes_;
  std::set<Name> acknowledged_;
  std::map<std::uint64_t, Name> positions_;  // as they were seen
  bool code_saved_ = false, redeemed_ = false, revoked_ = false;
};

}  // namespace chipfall
