#include "tests/tools/instance_words.h"

#include <fmt/format.h>

#include <algorithm>
#include <charconv>
#include <cmath>

namespace chipfall::test {
namespace {

bool is_blank(char c) { return c == ' ' || c == '\t' || c == '\r' || c == '\f' || c == '\v'; }

void add_words(std::string_view line, int number, std::vector<std::vector<Word>>& lines) {
  std::vector<Word> words;
  for (size_t at = 0; at < line.size();) {
    if (is_blank(line[at])) {
      ++at;
      continue;
    }
    size_t end = at;
    while (end < line.size() && !is_blank(line[end])) ++end;
    words.push_back({line.substr(at, end - at), number, static_cast<int>(at) + 1});
    at = end;
  }
  if (!words.empty()) lines.push_back(std::move(words));
}

void check_demands(const std::vector<Job>& jobs, const std::vector<Figure>& capacities,
                   FigureReader& reader) {
  for (const Job& job : jobs) {
    for (size_t r = 0; r < job.demands.size(); ++r) {
      if (job.demands[r].value <= capacities[r].value) continue;
      reader.mistake(job.demands[r].place,
                     fmt::format("a demand of {} of resource {}, of which there are {}",
                                 job.demands[r].value, r + 1, capacities[r].value));
    }
  }
}

void check_successors(const std::vector<Job>& jobs, FigureReader& reader) {
  for (size_t i = 0; i < jobs.size(); ++i) {
    for (const Figure& successor : jobs[i].successors) {
      const double number = successor.value;
      if (number >= 1 && number <= static_cast<double>(jobs.size())) continue;
      reader.mistake(successor.place, fmt::format("successor {} of job {}: jobs are 1 to {}",
                                                  number, i + 1, jobs.size()));
    }
  }
}

void check_circle(const Project& project, const std::vector<Job>& jobs, FigureReader& reader) {
  const std::vector<int> order = precedence_order(project);
  std::vector<char> placed(jobs.size(), 0);
  for (const int task : order) placed[task] = 1;
  for (size_t i = 0; i < jobs.size(); ++i) {
    if (placed[i] != 0) continue;
    reader.mistake(jobs[i].place,
                   fmt::format("job {} never starts: it waits for jobs that wait for each other in "
                               "a circle",
                               i + 1));
    return;
  }
}

}  // namespace

std::vector<std::vector<Word>> words_of(std::string_view text) {
  std::vector<std::vector<Word>> lines;
  int number = 1;
  for (size_t at = 0; at <= text.size(); ++number) {
    const size_t end = std::min(text.find('\n', at), text.size());
    add_words(text.substr(at, end - at), number, lines);
    at = end + 1;
  }
  return lines;
}

double FigureReader::number(const Word& word, const std::string& what, double most) {
  double value = 0;
  const char* end = word.text.data() + word.text.size();
  const auto [stopped, problem] = std::from_chars(word.text.data(), end, value);
  if (problem != std::errc() || stopped != end || !(value >= 0)) {
    mistake(place_of(word),
            fmt::format("{}: \"{}\" is not a number of at least 0", what, word.text));
    return 0;
  }
  if (value > most) {
    mistake(place_of(word), fmt::format("{}: {} is more than {}", what, word.text, most));
    return 0;
  }
  return value;
}

Figure FigureReader::minutes(const Word& word, const std::string& what) {
  return {number(word, what, kMostMinutes), place_of(word)};
}

Figure FigureReader::whole(const Word& word, const std::string& what, int most) {
  const double value = number(word, what, most);
  if (value == std::floor(value)) return {value, place_of(word)};
  mistake(place_of(word), fmt::format("{}: {} is not a whole number", what, word.text));
  return {0, place_of(word)};
}

void FigureReader::mistake(const Place& place, const std::string& message) {
  errors_.push_back({ErrorCode::kMistake, message, place});
}

Result<Project> project_of(const std::vector<Job>& jobs, const std::vector<Figure>& capacities,
                           FigureReader& reader) {
  check_demands(jobs, capacities, reader);
  check_successors(jobs, reader);
  if (!reader.good()) return tl::unexpected(reader.errors());
  Project project;
  for (const Figure& capacity : capacities) {
    project.capacity.push_back(static_cast<int>(capacity.value));
  }
  project.tasks.resize(jobs.size());
  for (size_t i = 0; i < jobs.size(); ++i) {
    project.tasks[i].minutes = jobs[i].duration.value;
    for (const Figure& demand : jobs[i].demands) {
      project.tasks[i].demand.push_back(static_cast<int>(demand.value));
    }
    for (const Figure& successor : jobs[i].successors) {
      project.tasks[static_cast<size_t>(successor.value) - 1].after.push_back(static_cast<int>(i));
    }
  }
  check_circle(project, jobs, reader);
  if (!reader.good()) return tl::unexpected(reader.errors());
  return project;
}

}  // namespace chipfall::test
