#include <fmt/format.h>

#include <algorithm>

#include "tests/tools/instance_text.h"
#include "tests/tools/instance_words.h"

namespace chipfall::test {
namespace {

using Line = std::vector<Word>;

bool starts_with(const Line& line, std::string_view first, std::string_view second = {}) {
  if (!line[0].text.starts_with(first)) return false;
  return second.empty() || (line.size() > 1 && line[1].text.starts_with(second));
}

bool is_rule(const Line& line) {
  return line[0].text.find_first_not_of("*-") == std::string_view::npos && line[0].text.size() > 1;
}

/// Reads section by section; what a section needs from an earlier one must stand before it.
class SmReader {
 public:
  SmReader(const std::vector<Line>& lines, FigureReader& reader) : lines_(lines), reader_(reader) {}
  Result<Project> read();

 private:
  void counts();
  void count(const Line& line, const std::string& what, int most, int& into);
  void precedence();
  void requests();
  void availabilities();
  const Line* row(const std::string& section);
  bool find(std::string_view first, std::string_view second, const std::string& name);
  int job_number(const Line& line, const std::string& section, size_t job);

  const std::vector<Line>& lines_;
  FigureReader& reader_;
  size_t at_ = 0;
  int jobs_ = 0;
  int resources_ = 0;
  int others_ = 0;  // resources that are used up
  std::vector<Job> read_;
  std::vector<Figure> capacities_;
};

void SmReader::count(const Line& line, const std::string& what, int most, int& into) {
  const auto colon =
      std::ranges::find_if(line, [](const Word& word) { return word.text.ends_with(':'); });
  if (colon == line.end() || colon + 1 == line.end()) {
    reader_.mistake(reader_.place_of(line[0]), what + ": no number behind a colon");
    return;
  }
  into = static_cast<int>(reader_.whole(*(colon + 1), what, most).value);
}

void SmReader::counts() {
  for (at_ = 0; at_ < lines_.size(); ++at_) {
    const Line& line = lines_[at_];
    if (starts_with(line, "PRECEDENCE")) return;
    if (starts_with(line, "jobs")) count(line, "number of jobs", kMostJobs, jobs_);
    if (starts_with(line, "-", "renewable")) {
      count(line, "number of renewable resources", kMostResources, resources_);
    }
    if (!starts_with(line, "-", "nonrenewable") && !starts_with(line, "-", "doubly")) continue;
    count(line, "number of resources that are used up", kMostResources, others_);
    if (others_ > 0) {
      reader_.mistake(reader_.place_of(line[0]),
                      "resources that are used up; only renewable ones can be read");
    }
  }
}

/// Goes behind the heading of a section.
bool SmReader::find(std::string_view first, std::string_view second, const std::string& name) {
  while (at_ < lines_.size() && !starts_with(lines_[at_], first, second)) ++at_;
  if (at_ == lines_.size()) {
    reader_.mistake(reader_.place_of(lines_.back().back()), "no section " + name + " from here on");
    return false;
  }
  ++at_;
  return true;
}

/// The next line of the section; null, with a mistake, where there is none.
const Line* SmReader::row(const std::string& section) {
  if (at_ < lines_.size() && !is_rule(lines_[at_])) return &lines_[at_++];
  const Line& line = lines_[std::min(at_, lines_.size() - 1)];
  reader_.mistake(reader_.place_of(line[0]), section + " ends before its last job");
  return nullptr;
}

int SmReader::job_number(const Line& line, const std::string& section, size_t job) {
  const Figure number = reader_.whole(line[0], section + ", job", kMostJobs);
  if (reader_.good() && number.value != static_cast<double>(job + 1)) {
    reader_.mistake(number.place, fmt::format("{}: job {} where job {} should stand", section,
                                              number.value, job + 1));
  }
  return static_cast<int>(job);
}

void SmReader::precedence() {
  const std::string section = "PRECEDENCE RELATIONS";
  if (!find("PRECEDENCE", "RELATIONS", section)) return;
  ++at_;  // column titles
  for (size_t job = 0; reader_.good() && job < static_cast<size_t>(jobs_); ++job) {
    const Line* line = row(section);
    if (line == nullptr) return;
    job_number(*line, section, job);
    Job made;
    made.place = reader_.place_of((*line)[0]);
    if (line->size() < 3) {
      reader_.mistake(made.place, section + ": job, modes, successors should stand here");
      return;
    }
    const Figure modes = reader_.whole((*line)[1], "modes", kMostUnits);
    if (modes.value != 1) {
      reader_.mistake(modes.place,
                      fmt::format("{} modes; only jobs with one can be read", (*line)[1].text));
    }
    const Figure count = reader_.whole((*line)[2], "number of successors", kMostJobs);
    if (reader_.good() && static_cast<double>(line->size() - 3) != count.value) {
      reader_.mistake(count.place, fmt::format("{} successors announced, {} given", count.value,
                                               line->size() - 3));
    }
    for (size_t i = 3; i < line->size(); ++i) {
      made.successors.push_back(reader_.whole((*line)[i], "successor", kMostJobs));
    }
    read_.push_back(std::move(made));
  }
}

void SmReader::requests() {
  const std::string section = "REQUESTS/DURATIONS";
  if (!find("REQUESTS", {}, section)) return;
  ++at_;                                                   // column titles
  if (at_ < lines_.size() && is_rule(lines_[at_])) ++at_;  // the line below them
  for (size_t job = 0; reader_.good() && job < read_.size(); ++job) {
    const Line* line = row(section);
    if (line == nullptr) return;
    job_number(*line, section, job);
    const size_t wanted = 3 + static_cast<size_t>(resources_);
    if (line->size() != wanted) {
      reader_.mistake(reader_.place_of(line->back()),
                      fmt::format("{}: job, mode, duration and {} demands are {} figures, here are "
                                  "{}",
                                  section, resources_, wanted, line->size()));
      return;
    }
    read_[job].duration = reader_.minutes((*line)[2], "duration");
    for (size_t i = 3; i < wanted; ++i) {
      read_[job].demands.push_back(reader_.whole((*line)[i], "demand", kMostUnits));
    }
  }
}

void SmReader::availabilities() {
  const std::string section = "RESOURCEAVAILABILITIES";
  if (!find("RESOURCEAVAILABILITIES", {}, section)) return;
  ++at_;  // names
  if (resources_ == 0) return;
  const Line* line = row(section);
  if (line == nullptr) return;
  if (line->size() != static_cast<size_t>(resources_)) {
    reader_.mistake(reader_.place_of((*line)[0]), fmt::format("{}: {} capacities for {} resources",
                                                              section, line->size(), resources_));
    return;
  }
  for (const Word& word : *line) {
    capacities_.push_back(reader_.whole(word, "capacity", kMostUnits));
  }
}

Result<Project> SmReader::read() {
  counts();
  if (reader_.good() && jobs_ == 0) {
    reader_.mistake(reader_.place_of(lines_[0][0]), "no line `jobs ... : number` above 0");
  }
  if (reader_.good()) precedence();
  if (reader_.good()) requests();
  if (reader_.good()) availabilities();
  if (!reader_.good()) return tl::unexpected(reader_.errors());
  return project_of(read_, capacities_, reader_);
}

}  // namespace

Result<Project> read_sm(const std::vector<Line>& lines, FigureReader& reader) {
  return SmReader(lines, reader).read();
}

std::string write_sm(const Project& project) {
  const std::string rule(72, '*');
  const std::vector<std::vector<int>> successors = successors_of(project);
  std::string text = rule + "\n";
  text += fmt::format("projects                      :  1\n");
  text += fmt::format("jobs (incl. supersource/sink ):  {}\n", project.tasks.size());
  text +=
      fmt::format("RESOURCES\n  - renewable                 :  {}   R\n", project.capacity.size());
  text += "  - nonrenewable              :  0   N\n  - doubly constrained        :  0   D\n";
  text += rule + "\nPRECEDENCE RELATIONS:\njobnr.    #modes  #successors   successors\n";
  for (size_t i = 0; i < successors.size(); ++i) {
    text += fmt::format("{:4}        1  {:10}        ", i + 1, successors[i].size());
    for (const int next : successors[i]) text += fmt::format(" {:3}", next + 1);
    text += "\n";
  }
  std::string names;
  for (size_t r = 0; r < project.capacity.size(); ++r) names += fmt::format("  R{:2}", r + 1);
  text += rule + "\nREQUESTS/DURATIONS:\njobnr. mode duration" + names + "\n";
  text += std::string(72, '-') + "\n";
  for (size_t i = 0; i < project.tasks.size(); ++i) {
    text += fmt::format("{:3}      1  {:>6}   ", i + 1, project.tasks[i].minutes);
    for (const int demand : project.tasks[i].demand) text += fmt::format("  {:3}", demand);
    text += "\n";
  }
  text += rule + "\nRESOURCEAVAILABILITIES:\n" + names + "\n";
  for (const int capacity : project.capacity) text += fmt::format("  {:3}", capacity);
  return text + "\n" + rule + "\n";
}

}  // namespace chipfall::test
