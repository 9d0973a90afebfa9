#pragma once

#include <cstdint>
#include <memory>
#include <string>
#include <string_view>

#include <tl/expected.hpp>

#include "core/shop/error.h"

struct sqlite3;
struct sqlite3_stmt;

/// The little of SQLite that the ledger needs, with owners that close what they opened and with
/// failures that say what, where and what to do. One thread at a time.
namespace chipfall {

template <typename T>
using OrError = tl::expected<T, Error>;

/// Whether there is such a file with anything in it, or such a folder, as SQLite's own file system
/// sees it: in a browser that is the only one.
bool exists_for_sqlite(const std::string& path);

/// An open database file.
class SqliteFile {
 public:
  /// Opens, and creates where `may_create`. Waits up to `busy_ms` for another process's lock.
  static OrError<SqliteFile> open(const std::string& path, bool may_create, int busy_ms);

  /// Runs statements that give no rows, or whose rows do not matter.
  OrError<void> run(const std::string& sql);

  /// The first column of the first row; "" and 0 where there is no row.
  OrError<std::string> text_of(const std::string& sql);
  OrError<std::int64_t> number_of(const std::string& sql);

  /// What SQLite last complained about, as an error of this file. `doing` completes the sentence
  /// "could not ...".
  Error complaint(const std::string& doing) const;

  /// An error of this file that SQLite knows nothing of.
  Error refusal(ErrorCode code, std::string message) const;

  sqlite3* get() const { return handle_.get(); }
  const std::string& path() const { return path_; }

 private:
  struct Closer {
    void operator()(sqlite3* handle) const;
  };
  std::unique_ptr<sqlite3, Closer> handle_;
  std::string path_;
};

/// One prepared statement. Bytes bound must live until the next step or reset.
class Statement {
 public:
  static OrError<Statement> prepare(SqliteFile& file, std::string_view sql, std::string doing);

  Statement& bind(int index, std::int64_t value);
  Statement& bind_bytes(int index, std::string_view bytes);

  /// Whether there is a row to read.
  OrError<bool> step();
  /// Steps a statement that gives no rows, and makes it ready for the next binding.
  OrError<void> finish();
  void reset();

  std::int64_t number(int column) const;
  /// Valid until the next step.
  std::string_view bytes(int column) const;

 private:
  struct Finalizer {
    void operator()(sqlite3_stmt* statement) const;
  };
  std::unique_ptr<sqlite3_stmt, Finalizer> statement_;
  SqliteFile* file_ = nullptr;
  std::string doing_;
  int bind_failure_ = 0;
};

/// A write transaction, rolled back unless committed. Takes the write lock at once, so that what is
/// read inside it stays true until it ends.
class WriteTransaction {
 public:
  static OrError<WriteTransaction> begin(SqliteFile& file);
  WriteTransaction(WriteTransaction&& other) noexcept;
  WriteTransaction& operator=(WriteTransaction&&) = delete;
  ~WriteTransaction();

  /// On disk when it returns without an error; with one, nothing of the transaction is.
  OrError<void> commit();

 private:
  explicit WriteTransaction(SqliteFile& file) : file_(&file) {}
  SqliteFile* file_;
};

}  // namespace chipfall
