#include "sync/columns.h"

namespace chipfall::columns {

namespace {

// Tables of strings that several fields share.
constexpr int kDevices = 1, kDuties = 2, kPlaces = 3;

constexpr Shape shape(std::initializer_list<Field> fields) {
  Shape made{};
  std::size_t i = 0;
  for (const Field& field : fields) made.fields[i++] = field;
  return made;
}

// Numbers are those of core/proto/ledger.proto and session.proto.
const Shape kClock = shape({{1, nullptr, Step::kClock}, {2}});
const Shape kLeaves = shape({});
const Shape kAboutPlace = shape({{1, nullptr, Step::kPlain, kPlaces}});
const Shape kEntryName =
    shape({{1, nullptr, Step::kPlain, kDevices}, {2, nullptr, Step::kFromName}});
const Shape kDutyName = shape({{1, nullptr, Step::kPlain, kDuties}, {2, &kEntryName}});
const Shape kUse = shape({{1, nullptr, Step::kPlain, kPlaces}});
const Shape kSession = shape({{6, &kUse}});
const Shape kOwed = shape({{1, nullptr, Step::kPlain, kDuties},
                           {7, nullptr, Step::kPlain, kPlaces},
                           {8, nullptr, Step::kPlain, kPlaces},
                           {9, nullptr, Step::kPlain, kPlaces}});
const Shape kSessionEnded = shape({{1, &kSession}, {2, &kOwed}});
const Shape kEnding = shape({{1, &kDutyName}});
const Shape kMachineBack = shape({{1, nullptr, Step::kPlain, kPlaces}, {2, &kEntryName}});
const Shape kEntry = shape({{1, nullptr, Step::kPlain, kDevices},
                            {2, nullptr, Step::kFromName},
                            {3, &kClock},
                            {4, nullptr, Step::kFromClock},
                            {16, &kSessionEnded},
                            {17, &kEnding},
                            {18, &kEnding},
                            {19, &kEnding},
                            {20, &kEnding},
                            {21, &kAboutPlace},
                            {22, &kAboutPlace},
                            {23, &kAboutPlace},
                            {24, &kAboutPlace},
                            {25, &kMachineBack},
                            {26, &kLeaves},
                            {27, &kLeaves},
                            {28, &kEnding},
                            {29, &kLeaves},
                            {30, &kLeaves},
                            {31, &kLeaves}});

}  // namespace

const Field* Shape::find(std::uint32_t number) const {
  for (const Field& field : fields) {
    if (field.number == number) return &field;
  }
  return nullptr;
}

void Words::learn(std::string_view word) {
  if (index.emplace(word, known.size()).second) known.push_back(word);
}

const Shape& entry_shape() { return kEntry; }

}  // namespace chipfall::columns
