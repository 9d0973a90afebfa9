#include "tests/tools/instance_text.h"

#include <fmt/format.h>

#include "tests/tools/instance_words.h"

namespace chipfall::test {
namespace {

/// Figures in a row, wherever the lines break.
class PattersonReader {
 public:
  PattersonReader(const std::vector<std::vector<Word>>& lines, FigureReader& reader)
      : reader_(reader) {
    for (const std::vector<Word>& line : lines) {
      words_.insert(words_.end(), line.begin(), line.end());
    }
  }
  Result<Project> read();

 private:
  const Word* next(const std::string& what);
  Figure whole(const std::string& what, int most);
  Figure minutes(const std::string& what);
  Job job(size_t number, size_t resources);

  FigureReader& reader_;
  std::vector<Word> words_;
  size_t at_ = 0;
};

/// Null, with a mistake, at the end of the text, and after any mistake.
const Word* PattersonReader::next(const std::string& what) {
  if (!reader_.good()) return nullptr;
  if (at_ < words_.size()) return &words_[at_++];
  reader_.mistake(reader_.place_of(words_.back()), "the text ends here, before " + what);
  return nullptr;
}

Figure PattersonReader::whole(const std::string& what, int most) {
  const Word* word = next(what);
  return word != nullptr ? reader_.whole(*word, what, most) : Figure{};
}

Figure PattersonReader::minutes(const std::string& what) {
  const Word* word = next(what);
  return word != nullptr ? reader_.minutes(*word, what) : Figure{};
}

Job PattersonReader::job(size_t number, size_t resources) {
  Job made;
  made.duration = minutes(fmt::format("the duration of job {}", number));
  made.place = made.duration.place;
  for (size_t r = 0; r < resources && reader_.good(); ++r) {
    made.demands.push_back(
        whole(fmt::format("the demand of job {} of resource {}", number, r + 1), kMostUnits));
  }
  const Figure count = whole(fmt::format("how many successors job {} has", number), kMostJobs);
  for (double i = 0; i < count.value && reader_.good(); ++i) {
    made.successors.push_back(whole(fmt::format("a successor of job {}", number), kMostJobs));
  }
  return made;
}

Result<Project> PattersonReader::read() {
  const auto jobs = static_cast<size_t>(whole("the number of jobs", kMostJobs).value);
  const auto resources =
      static_cast<size_t>(whole("the number of resources", kMostResources).value);
  std::vector<Figure> capacities;
  while (reader_.good() && capacities.size() < resources) {
    capacities.push_back(
        whole(fmt::format("the capacity of resource {}", capacities.size() + 1), kMostUnits));
  }
  std::vector<Job> made;
  while (reader_.good() && made.size() < jobs) made.push_back(job(made.size() + 1, resources));
  if (reader_.good() && at_ < words_.size()) {
    reader_.mistake(
        reader_.place_of(words_[at_]),
        fmt::format("\"{}\" stands behind the last of {} jobs", words_[at_].text, jobs));
  }
  if (!reader_.good()) return tl::unexpected(reader_.errors());
  return project_of(made, capacities, reader_);
}

}  // namespace

Result<Project> read_instance(std::string_view text, const std::string& file) {
  FigureReader reader(file);
  const std::vector<std::vector<Word>> lines = words_of(text);
  if (lines.empty()) {
    reader.mistake({file, 1, 1, {}}, "an empty text");
    return tl::unexpected(reader.errors());
  }
  const char first = lines[0][0].text[0];
  if (first >= '0' && first <= '9') return PattersonReader(lines, reader).read();
  return read_sm(lines, reader);
}

std::string write_patterson(const Project& project) {
  const std::vector<std::vector<int>> successors = successors_of(project);
  std::string text = fmt::format("{} {}\n", project.tasks.size(), project.capacity.size());
  for (const int capacity : project.capacity) text += fmt::format("{} ", capacity);
  text += "\n";
  for (size_t i = 0; i < project.tasks.size(); ++i) {
    text += fmt::format("{}", project.tasks[i].minutes);
    for (const int demand : project.tasks[i].demand) text += fmt::format(" {}", demand);
    text += fmt::format(" {}", successors[i].size());
    for (const int next : successors[i]) text += fmt::format(" {}", next + 1);
    text += "\n";
  }
  return text;
}

}  // namespace chipfall::test
