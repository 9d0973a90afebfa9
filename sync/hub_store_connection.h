#pragma once

#include <map>
#include <string_view>

#include "sync/hub_store.h"

/// How SqliteHubLog talks to its file; for its own parts only.
namespace chipfall {

/// A statement while it is used; left ready for the next use, so that no read stays open and
/// holds up the folding of the log.
class InUse {
 public:
  explicit InUse(Statement& statement) : statement_(&statement) {}
  InUse(const InUse&) = delete;
  InUse& operator=(const InUse&) = delete;
  ~InUse() { statement_->reset(); }
  Statement* operator->() const { return statement_; }

 private:
  Statement* statement_;
};

struct SqliteHubLog::Connection {
  explicit Connection(SqliteFile opened) : file(std::move(opened)) {}

  /// Prepared once and kept.
  OrError<Statement*> statement(std::string_view sql, const char* doing) {
    const auto known = prepared.find(sql);
    if (known != prepared.end()) return &known->second;
    auto made = Statement::prepare(file, sql, doing);
    if (!made) return tl::unexpected(made.error());
    return &prepared.emplace(sql, std::move(*made)).first->second;
  }

  SqliteFile file;
  std::map<std::string_view, Statement> prepared;  // keys are literals
};

}  // namespace chipfall
