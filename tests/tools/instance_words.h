#pragma once

#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "core/crew/project.h"
#include "core/shop/error.h"

/// What both layouts of instance_text.h are made of.
namespace chipfall::test {

struct Word {
  std::string_view text;
  int line = 0;
  int column = 0;
};

/// All words of a text, by line; lines without words are left out.
std::vector<std::vector<Word>> words_of(std::string_view text);

/// A figure and where it stands.
struct Figure {
  double value = 0;
  Place place;
};

/// One job as it is read.
struct Job {
  Place place;
  Figure duration;
  std::vector<Figure> demands;
  std::vector<Figure> successors;  ///< numbers of jobs, from 1
};

/// Takes figures out of words and keeps the first mistake.
class FigureReader {
 public:
  explicit FigureReader(std::string file) : file_(std::move(file)) {}

  /// A duration: at least 0, with or without decimals.
  Figure minutes(const Word& word, const std::string& what);

  /// A whole number from 0 to `most`. `what` is named in mistakes.
  Figure whole(const Word& word, const std::string& what, int most);

  void mistake(const Place& place, const std::string& message);
  Place place_of(const Word& word) const { return {file_, word.line, word.column, {}}; }
  bool good() const { return errors_.empty(); }
  const Errors& errors() const { return errors_; }

 private:
  double number(const Word& word, const std::string& what, double most);

  std::string file_;
  Errors errors_;
};

/// The project, once its demands fit, its successors exist, and nothing waits for itself.
Result<Project> project_of(const std::vector<Job>& jobs, const std::vector<Figure>& capacities,
                           FigureReader& reader);

/// The PSPLIB layout; the other one is short enough for instance_text.cpp.
Result<Project> read_sm(const std::vector<std::vector<Word>>& lines, FigureReader& reader);

}  // namespace chipfall::test
