#include "tests/tools/instance_text.h"

#include <doctest/doctest.h>

#include <algorithm>

#include "broken.h"
#include "tests/tools/random_project.h"

namespace chipfall {
namespace {

using test::Broken;
using test::check_broken;
using test::check_robust;
using test::mistakes_of;
using test::read_instance;

const std::string kPatterson =
    "6 2\n"
    "2 3\n"
    "0 0 0 2 2 3\n"
    "4 1 2 1 4\n"
    "2.5 1 0 1 5\n"
    "3 2 1 1 6\n"
    "7 0 3 1 6\n"
    "0 0 0 0\n";

/// The same project.
const std::string kSm =
    "****************************************\n"
    "file with basedata            : hand.bas\n"
    "projects                      :  1\n"
    "jobs (incl. supersource/sink ):  6\n"
    "horizon                       :  17\n"
    "RESOURCES\n"
    "  - renewable                 :  2   R\n"
    "  - nonrenewable              :  0   N\n"
    "  - doubly constrained        :  0   D\n"
    "****************************************\n"
    "PROJECT INFORMATION:\n"
    "pronr.  #jobs rel.date duedate tardcost  MPM-Time\n"
    "    1      4      0       17       1        10\n"
    "****************************************\n"
    "PRECEDENCE RELATIONS:\n"
    "jobnr.    #modes  #successors   successors\n"
    "   1        1          2           2   3\n"
    "   2        1          1           4\n"
    "   3        1          1           5\n"
    "   4        1          1           6\n"
    "   5        1          1           6\n"
    "   6        1          0\n"
    "****************************************\n"
    "REQUESTS/DURATIONS:\n"
    "jobnr. mode duration  R 1  R 2\n"
    "----------------------------------------\n"
    "  1      1     0       0    0\n"
    "  2      1     4       1    2\n"
    "  3      1     2.5     1    0\n"
    "  4      1     3       2    1\n"
    "  5      1     7       0    3\n"
    "  6      1     0       0    0\n"
    "****************************************\n"
    "RESOURCEAVAILABILITIES:\n"
    "  R 1  R 2\n"
    "    2    3\n"
    "**LAST*********************************\n";

Errors mistakes(const std::string& text) { return mistakes_of(read_instance(text, "hand")); }

void check_same(const Project& one, const Project& other) {
  CHECK(one.capacity == other.capacity);
  REQUIRE(one.tasks.size() == other.tasks.size());
  for (size_t i = 0; i < one.tasks.size(); ++i) {
    CHECK(one.tasks[i].minutes == other.tasks[i].minutes);
    CHECK(one.tasks[i].demand == other.tasks[i].demand);
    CHECK(one.tasks[i].after == other.tasks[i].after);
  }
}

TEST_CASE("an instance reads the same in both layouts") {
  const Result<Project> patterson = read_instance(kPatterson, "hand.rcp");
  REQUIRE(patterson);
  CHECK(patterson->capacity == std::vector<int>{2, 3});
  REQUIRE(patterson->tasks.size() == 6);
  CHECK(patterson->tasks[2].minutes == 2.5);
  CHECK(patterson->tasks[3].demand == std::vector<int>{2, 1});
  CHECK(patterson->tasks[5].after == std::vector<int>{3, 4});
  const Result<Project> sm = read_instance(kSm, "hand.sm");
  REQUIRE(sm);
  check_same(*patterson, *sm);
}

TEST_CASE("an instance with Windows line ends, or all on one line, reads the same") {
  std::string windows = kSm;
  for (size_t at = 0; (at = windows.find('\n', at)) != std::string::npos; at += 2) {
    windows.replace(at, 1, "\r\n");
  }
  std::string one_line = kPatterson;
  std::ranges::replace(one_line, '\n', ' ');
  const Project project = *read_instance(kPatterson, "");
  for (const std::string& text : {windows, one_line}) {
    const Result<Project> read = read_instance(text, "");
    REQUIRE(read);
    check_same(*read, project);
  }
}

TEST_CASE("what is written reads as the same project, in both layouts") {
  for (unsigned seed = 1; seed < 30; ++seed) {
    test::RandomProject settings;
    settings.seed = seed;
    Project project = random_project(settings);
    project.tasks[4].minutes = 2.125;
    for (const std::string& text : {test::write_sm(project), test::write_patterson(project)}) {
      const Result<Project> read = read_instance(text, "");
      REQUIRE(read);
      check_same(*read, project);
    }
  }
}

TEST_CASE("a broken Patterson text is refused at its place") {
  constexpr Broken kRows[] = {
      {"6 2", "six 2", "six", "", "no line `jobs"},
      {"6 2", "6.5 2", "6.5", "", "6.5 is not a whole number"},
      {"6 2", "6 x", "x", "", "the number of resources: \"x\" is not a number"},
      {"6 2", "60000 2", "60000", "", "60000 is more than 10000"},
      {"2 3\n0", "2 -3\n0", "-3", "", "the capacity of resource 2"},
      {"4 1 2 1 4", "-4 1 2 1 4", "-4", "", "the duration of job 2"},
      {"4 1 2 1 4", "nan 1 2 1 4", "nan", "", "not a number"},
      {"4 1 2 1 4", "4 1 4 1 4", "4 1 4\n", "",
       "a demand of 4 of resource 2, of which there are 3"},
      {"7 0 3 1 6", "7 0 3 1 8", "8", "", "successor 8 of job 5: jobs are 1 to 6"},
      {"7 0 3 1 6", "7 0 3 1 3", "2.5", "", "job 3 never starts"},
      {"0 0 0 0\n", "0 0 0\n", "0\n", "", "the text ends here, before how many successors job 6"},
      {"0 0 0 0\n", "0 0 0 0 9\n", "9", "", "\"9\" stands behind the last of 6 jobs"},
  };
  check_broken(kPatterson, kRows, mistakes, false);
}

TEST_CASE("a broken .sm text is refused at its place") {
  constexpr Broken kRows[] = {
      {":  6\n", ":  none\n", "none", "", "number of jobs: \"none\" is not a number"},
      {"):  6\n", ")   6\n", "jobs (incl", "", "number of jobs: no number behind a colon"},
      {"nonrenewable              :  0", "nonrenewable              :  2", "- nonrenewable", "",
       "only renewable ones can be read"},
      {"PRECEDENCE", "PREFERENCE", "**LAST", "", "no section PRECEDENCE RELATIONS from here on"},
      {"   2        1          1 ", "   2        3          1 ", "3          1 ", "",
       "3 modes; only jobs with one can be read"},
      {"2           2   3", "2           2   9", "9", "", "successor 9 of job 1: jobs are 1 to 6"},
      {"2           2   3", "4           2   3", "4           2   3", "",
       "4 successors announced, 2 given"},
      {"   4        1          1 ", "   5        1          1 ",
       "5        1          1           6\n   5", "", "job 5 where job 4 should stand"},
      {"   6        1          0\n", "", "****************************************\nREQ", "",
       "PRECEDENCE RELATIONS ends before its last job"},
      {"  3      1     2.5     1    0", "  3      1     2.5     1", "1\n  4 ", "",
       "are 5 figures, here are 4"},
      {"2.5", "two", "two", "", "duration: \"two\" is not a number"},
      {"7       0    3", "7       0    4", "4\n  6", "", "a demand of 4 of resource 2"},
      {"    2    3\n", "    2\n", "2\n**LAST", "", "1 capacities for 2 resources"},
      {"RESOURCEAVAILABILITIES", "AVAILABILITIES", "**LAST", "",
       "no section RESOURCEAVAILABILITIES"},
  };
  check_broken(kSm, kRows, mistakes, false);
}

TEST_CASE("an empty text is no instance") {
  for (const std::string text : {"", "  \n\t\n"}) {
    REQUIRE(mistakes(text).size() == 1);
    CHECK(mistakes(text)[0].text() == "hand:1:1: an empty text");
  }
}

TEST_CASE("any damage to an instance is taken or refused, and what is taken is a project") {
  const auto load = [](const std::string& text) {
    const Result<Project> read = read_instance(text, "hand");
    if (read) REQUIRE(mistake_of(*read).empty());
    return mistakes_of(read);
  };
  check_robust(kPatterson, load);
  check_robust(kSm, load);
}

}  // namespace
}  // namespace chipfall
