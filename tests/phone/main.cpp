// The native side of the tests of the core for phones; tests/phone/run calls it.
//
//   phone_native ask FILE            asks the native door, and writes what was asked and answered
//   phone_native compare FILE OTHER  whether the answers in both say the same: numbers to a part in
//                                    1e9, everything else exactly
//   phone_native hub                 a shop's hub in memory on standard input and output
#include <fmt/format.h>
#include <google/protobuf/util/field_comparator.h>
#include <google/protobuf/util/message_differencer.h>

#include <fstream>
#include <string>

#include "core/proto/door.pb.h"
#include "tests/phone/asked.h"
#include "tests/phone/hub_on_pipes.h"

namespace {

using namespace chipfall;
using namespace chipfall::test;

constexpr double kPart = 1e-9;
constexpr double kZero = 1e-9;  ///< what differs by no more is the same, also beside 0: of grams
constexpr std::size_t kLeastAnswers = 500;  ///< fewer, and the test has lost its questions
constexpr std::size_t kMostShown = 20;

int ask(const std::string& path) {
  const std::vector<Asked> all = ask_native();
  std::ofstream(path, std::ios::binary) << written(all);
  fmt::print("{} asked\n", std::ranges::count(all, Asked::Kind::kAnswer, &Asked::kind));
  return 0;
}

int compare(const std::string& path, const std::string& other_path) {
  const std::vector<Asked> native = read_back(contents_of(path));
  const std::vector<Asked> other = read_back(contents_of(other_path));
  google::protobuf::util::DefaultFieldComparator comparator;
  comparator.set_float_comparison(google::protobuf::util::DefaultFieldComparator::APPROXIMATE);
  comparator.set_treat_nan_as_equal(true);
  comparator.SetDefaultFractionAndMargin(kPart, kZero);
  std::size_t answers = 0, same_bytes = 0, differing = 0;
  std::string about;
  for (std::size_t i = 0; i < native.size(); ++i) {
    if (native[i].kind == Asked::Kind::kDoor) about = native[i].bytes;
    if (native[i].kind != Asked::Kind::kAnswer) continue;
    ++answers;
    if (i < other.size() && other[i].bytes == native[i].bytes) {
      ++same_bytes;
      continue;
    }
    proto::Response one, two;
    google::protobuf::util::MessageDifferencer differencer;
    std::string said;
    differencer.set_field_comparator(&comparator);
    // A zero is as good as none.
    differencer.set_message_field_comparison(
        google::protobuf::util::MessageDifferencer::EQUIVALENT);
    differencer.ReportDifferencesToString(&said);
    if (i < other.size() && one.ParseFromString(native[i].bytes) &&
        two.ParseFromString(other[i].bytes) && differencer.Compare(one, two)) {
      continue;
    }
    if (++differing > kMostShown) continue;
    proto::Request request;
    request.ParseFromString(native[i - 1].bytes);
    fmt::print("{}, request {} (kind {}):\n{}\n", about, i, static_cast<int>(request.ask_case()),
               said.substr(0, 2000));
  }
  fmt::print("{} answers, {} of them byte for byte, {} differ\n", answers, same_bytes, differing);
  return other.size() == native.size() && differing == 0 && answers >= kLeastAnswers ? 0 : 1;
}

}  // namespace

int main(int count, char** words) {
  const std::string what = count > 1 ? words[1] : "";
  if (what == "ask" && count == 3) return ask(words[2]);
  if (what == "compare" && count == 4) return compare(words[2], words[3]);
  if (what == "hub" && count == 2) return hub_on_pipes();
  fmt::print(stderr, "phone_native ask FILE | compare FILE OTHER | hub\n");
  return 2;
}
