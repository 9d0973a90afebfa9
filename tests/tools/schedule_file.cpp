#include <fmt/format.h>
#include <CLI/CLI.hpp>

#include <fstream>
#include <iostream>
#include <sstream>

#include "core/crew/solve.h"
#include "tests/tools/instance_text.h"
#include "tests/tools/study.h"

/// schedule_file: the solver on published instances. See --help.

using namespace chipfall;
using namespace chipfall::test;

namespace {

struct Options {
  std::vector<std::string> files;
  SolveLimits limits;
  bool starts = false;
  bool as_sm = false;
  bool as_patterson = false;
  int study = 0;
  int tasks = 30;
};

int refuse(const Errors& errors) {
  for (const Error& error : errors) std::cerr << error.text() << "\n";
  return 1;
}

void print_solved(const std::string& file, const Project& project, const Options& options) {
  const Solved solved = solve(project, options.limits);
  std::cout << fmt::format(
      "{}: {} tasks, makespan {}, lower bound {}, {}, {} evaluations, {} nodes\n", file,
      project.tasks.size(), solved.timetable.minutes, solved.lower_bound,
      solved.proven ? "proven" : "not proven", solved.evaluations, solved.nodes);
  if (!options.starts) return;
  for (size_t i = 0; i < project.tasks.size(); ++i) {
    const double start = solved.timetable.start[i];
    std::cout << fmt::format("  job {:3}  {} to {}\n", i + 1, start,
                             start + project.tasks[i].minutes);
  }
}

int take_file(const std::string& file, const Options& options) {
  std::ifstream in(file, std::ios::binary);
  std::stringstream text;
  text << in.rdbuf();
  if (!in) return refuse({{ErrorCode::kUnreadable, "cannot be read", {file, 0, 0, {}}}});
  const Result<Project> project = read_instance(text.str(), file);
  if (!project) return refuse(project.error());
  if (options.as_sm) std::cout << write_sm(*project);
  if (options.as_patterson) std::cout << write_patterson(*project);
  if (!options.as_sm && !options.as_patterson) print_solved(file, *project, options);
  return 0;
}

void print_row(const std::string& name, const StudyRow& row) {
  std::cout << fmt::format("{:>8} {:>9} {:>7} {:>10} {:>9.3f} {:>9.3f} {:>10.2f}% {:>13.2f}%\n",
                           name, row.instances, row.proven, row.proven_in_a_second,
                           row.seconds / row.instances, row.worst_seconds, 100 * row.above_bound,
                           100 * row.longest_first_above_bound);
}

void print_study(const Options& options) {
  const std::vector<StudyRow> rows =
      study({options.tasks, options.study, options.limits.seed, options.limits});
  std::cout << "strength instances  proven  under 1 s    mean s   worst s above bound "
               " longest first\n";
  for (const StudyRow& row : rows) print_row(fmt::format("{:.1f}", row.resource_strength), row);
  print_row("all", sum_of(rows));
}

}  // namespace

int main(int argc, char** argv) {
  Options options;
  CLI::App app(
      "Solves scheduling instances: Patterson's layout, or PSPLIB's .sm with single modes");
  app.add_option("files", options.files, "Instances");
  app.add_option("--evaluations", options.limits.evaluations, "Budget of the improvement")
      ->capture_default_str();
  app.add_option("--nodes", options.limits.nodes, "Budget of the exact search")
      ->capture_default_str();
  app.add_option("--seed", options.limits.seed, "Of the improvement, and of --study")
      ->capture_default_str();
  app.add_flag("--starts", options.starts, "Print when each job runs");
  app.add_flag("--write-sm", options.as_sm, "Print the instance as .sm and do not solve it");
  app.add_flag("--write-patterson", options.as_patterson, "The same in Patterson's layout");
  app.add_option("--study", options.study,
                 "Instead of files: N random projects in each of 48 cells")
      ->check(CLI::Range(1, 1000));
  app.add_option("--tasks", options.tasks, "Of each project of the study")
      ->check(CLI::Range(6, 300))
      ->capture_default_str();
  CLI11_PARSE(app, argc, argv);
  if (options.study > 0) print_study(options);
  int status = 0;
  for (const std::string& file : options.files) status |= take_file(file, options);
  if (options.files.empty() && options.study == 0) std::cout << app.help();
  return status;
}
