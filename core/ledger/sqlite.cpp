#include "core/ledger/sqlite.h"

#include <fmt/format.h>
#include <sqlite3.h>

#include <utility>

namespace chipfall {

namespace {

struct Advice {
  ErrorCode code;
  const char* what_to_do;
};

/// By primary result code: what a person can do about it, and whether waiting helps.
Advice advice_for(int result) {
  switch (result & 0xff) {
    case SQLITE_BUSY:
    case SQLITE_LOCKED:
      return {ErrorCode::kUnreadable, "another program is using the ledger: close it or try later"};
    case SQLITE_FULL:
      return {
          ErrorCode::kOutOfBounds,
          "the disk or the ledger's size limit is full: free some space and try again; what was "
          "saved before is safe"};
    case SQLITE_TOOBIG:
      return {ErrorCode::kOutOfBounds, "the entry is too large"};
    case SQLITE_READONLY:
    case SQLITE_PERM:
    case SQLITE_AUTH:
      return {ErrorCode::kUnreadable, "allow writing to the ledger and to its folder"};
    case SQLITE_CANTOPEN:
      return {ErrorCode::kUnreadable, "check that the folder exists and may be written to"};
    case SQLITE_NOTADB:
      return {ErrorCode::kUnreadable,
              "this is no ledger, or its beginning is damaged: choose "
              "another file, or salvage it"};
    case SQLITE_CORRUPT:
      return {ErrorCode::kUnreadable, "the file is damaged: keep it and salvage what can be read"};
    case SQLITE_IOERR:
      return {ErrorCode::kUnreadable,
              "the disk failed: close the ledger, check the disk and open it again"};
    case SQLITE_NOMEM:
      return {ErrorCode::kOutOfBounds, "memory ran out: close other programs and try again"};
    default:
      return {ErrorCode::kUnreadable, "close the ledger and open it again"};
  }
}

}  // namespace

bool exists_for_sqlite(const std::string& path) {
  sqlite3_vfs* files = sqlite3_initialize() == SQLITE_OK ? sqlite3_vfs_find(nullptr) : nullptr;
  int there = 0;
  return files && files->xAccess(files, path.c_str(), SQLITE_ACCESS_EXISTS, &there) == SQLITE_OK &&
         there != 0;
}

void SqliteFile::Closer::operator()(sqlite3* handle) const { sqlite3_close_v2(handle); }

OrError<SqliteFile> SqliteFile::open(const std::string& path, bool may_create, int busy_ms) {
  SqliteFile file;
  file.path_ = path;
  sqlite3* handle = nullptr;
  const int flags =
      SQLITE_OPEN_READWRITE | SQLITE_OPEN_EXRESCODE | (may_create ? SQLITE_OPEN_CREATE : 0);
  const int result = sqlite3_open_v2(path.c_str(), &handle, flags, nullptr);
  file.handle_.reset(handle);  // also after a failure, which it describes
  if (result != SQLITE_OK) return tl::unexpected(file.complaint("open the ledger"));
  sqlite3_busy_timeout(handle, busy_ms);
  return file;
}

OrError<void> SqliteFile::run(const std::string& sql) {
  if (sqlite3_exec(get(), sql.c_str(), nullptr, nullptr, nullptr) == SQLITE_OK) return {};
  return tl::unexpected(complaint(fmt::format("run `{}`", sql.substr(0, 60))));
}

OrError<std::string> SqliteFile::text_of(const std::string& sql) {
  auto statement = Statement::prepare(*this, sql, "read `" + sql + "`");
  if (!statement) return tl::unexpected(statement.error());
  const auto row = statement->step();
  if (!row) return tl::unexpected(row.error());
  return *row ? std::string(statement->bytes(0)) : std::string();
}

OrError<std::int64_t> SqliteFile::number_of(const std::string& sql) {
  auto statement = Statement::prepare(*this, sql, "read `" + sql + "`");
  if (!statement) return tl::unexpected(statement.error());
  const auto row = statement->step();
  if (!row) return tl::unexpected(row.error());
  return *row ? statement->number(0) : 0;
}

Error SqliteFile::complaint(const std::string& doing) const {
  const int result = get() ? sqlite3_extended_errcode(get()) : SQLITE_NOMEM;
  const Advice advice = advice_for(result);
  const char* detail = get() ? sqlite3_errmsg(get()) : "out of memory";
  return refusal(advice.code, fmt::format("could not {}: {} (SQLite {}); {}", doing, detail, result,
                                          advice.what_to_do));
}

Error SqliteFile::refusal(ErrorCode code, std::string message) const {
  return {code, std::move(message), {path_, 0, 0, ""}};
}

void Statement::Finalizer::operator()(sqlite3_stmt* statement) const {
  sqlite3_finalize(statement);
}

OrError<Statement> Statement::prepare(SqliteFile& file, std::string_view sql, std::string doing) {
  Statement made;
  made.file_ = &file;
  made.doing_ = std::move(doing);
  sqlite3_stmt* raw = nullptr;
  const int result =
      sqlite3_prepare_v2(file.get(), sql.data(), static_cast<int>(sql.size()), &raw, nullptr);
  made.statement_.reset(raw);
  if (result != SQLITE_OK) return tl::unexpected(file.complaint(made.doing_));
  return made;
}

Statement& Statement::bind(int index, std::int64_t value) {
  bind_failure_ |= sqlite3_bind_int64(statement_.get(), index, value);
  return *this;
}

Statement& Statement::bind_bytes(int index, std::string_view bytes) {
  // An empty view may have a null pointer, which SQLite would bind as NULL.
  const char* data = bytes.empty() ? "" : bytes.data();
  bind_failure_ |= sqlite3_bind_blob64(statement_.get(), index, data, bytes.size(), SQLITE_STATIC);
  return *this;
}

OrError<bool> Statement::step() {
  if (bind_failure_ != SQLITE_OK) return tl::unexpected(file_->complaint(doing_));
  const int result = sqlite3_step(statement_.get());
  if (result == SQLITE_ROW) return true;
  if (result == SQLITE_DONE) return false;
  return tl::unexpected(file_->complaint(doing_));
}

OrError<void> Statement::finish() {
  const auto row = step();
  reset();
  if (!row) return tl::unexpected(row.error());
  return {};
}

void Statement::reset() {
  sqlite3_reset(statement_.get());
  bind_failure_ = SQLITE_OK;
}

std::int64_t Statement::number(int column) const {
  return sqlite3_column_int64(statement_.get(), column);
}

std::string_view Statement::bytes(int column) const {
  const void* data = sqlite3_column_blob(statement_.get(), column);
  const int size = sqlite3_column_bytes(statement_.get(), column);
  return data ? std::string_view(static_cast<const char*>(data), static_cast<std::size_t>(size))
              : std::string_view();
}

OrError<WriteTransaction> WriteTransaction::begin(SqliteFile& file) {
  const auto begun = file.run("BEGIN IMMEDIATE");
  if (!begun) return tl::unexpected(begun.error());
  return WriteTransaction(file);
}

WriteTransaction::WriteTransaction(WriteTransaction&& other) noexcept
    : file_(std::exchange(other.file_, nullptr)) {}

WriteTransaction::~WriteTransaction() {
  // Some failures have rolled back already; asking keeps the second rollback from failing.
  if (file_ && !sqlite3_get_autocommit(file_->get())) {
    sqlite3_exec(file_->get(), "ROLLBACK", nullptr, nullptr, nullptr);
  }
}

OrError<void> WriteTransaction::commit() {
  auto committed = file_->run("COMMIT");
  if (committed) file_ = nullptr;
  return committed;
}

}  // namespace chipfall
