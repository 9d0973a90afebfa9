#include "preview/window/set_up.h"

#include <algorithm>
#include <array>
#include <chrono>
#include <cstdlib>
#include <filesystem>

#include <fmt/format.h>

#include "preview/window/demo_shop.h"

namespace chipfall::window {
namespace {

struct Kind {
  const char* word;
  const char* name;  ///< above the phone
  Screen first;
  bool wide;
  proto::Role role;
};
constexpr std::array<Kind, 5> kKinds{
    {{"member", "A member's phone", Screen::kHome, false, proto::ROLE_MEMBER},
     {"second", "Another member's phone", Screen::kHome, false, proto::ROLE_MEMBER},
     {"closer", "The closing volunteer's phone", Screen::kEvening, false, proto::ROLE_CLOSER},
     {"coordinator", "The coordinator's phone", Screen::kCoordinator, false,
      proto::ROLE_COORDINATOR},
     {"wide", "The coordinator at a desk", Screen::kCoordinator, true, proto::ROLE_COORDINATOR}}};

std::int64_t system_ms() {
  using std::chrono::duration_cast;
  using std::chrono::milliseconds;
  return duration_cast<milliseconds>(std::chrono::system_clock::now().time_since_epoch()).count();
}

Errors mistake(const std::string& file, const std::string& message) {
  return {{ErrorCode::kMistake, message, {file, 0, 0, ""}}};
}

}  // namespace

SetUp::SetUp() : checklists(CHIPFALL_CHECKLISTS) {}

Result<TemporaryFolder> TemporaryFolder::make() {
  std::string path = (std::filesystem::temp_directory_path() / "chipfall-window-XXXXXX").string();
  if (mkdtemp(path.data()) == nullptr) {
    return tl::unexpected(mistake(path, "no folder could be made there; set TMPDIR to one"));
  }
  return TemporaryFolder(path);
}

TemporaryFolder::~TemporaryFolder() {
  std::error_code ignored;
  if (!path_.empty()) std::filesystem::remove_all(path_, ignored);
}

namespace {

/// The office's device brings the shop's past to the hub, before any phone joins.
Result<void> bring(DemoHub& hub, const std::string& folder, const Device::Clock& clock) {
  Result<std::unique_ptr<Device>> office = Device::open(folder, clock, Device::Pace::kAtOnce);
  if (!office) return tl::unexpected(office.error());
  Wire wire(hub, **office, "office");
  wire.join(proto::ROLE_COORDINATOR);
  while ((*office)->deliver()) wire.look();
  if (wire.trouble().empty()) return {};
  return tl::unexpected(mistake(folder, wire.trouble()));
}

}  // namespace

Result<std::unique_ptr<Desk>> set_up(const SetUp& asked, const std::string& scratch) {
  Result<Type> type = Type::find();
  if (!type) return tl::unexpected(type.error());
  if (asked.folder.empty() && !asked.demo) {
    return tl::unexpected(mistake("--data", "name the folder of a shop, or take --demo"));
  }
  const std::filesystem::path folder = asked.folder.empty() ? scratch : asked.folder;
  const auto made = [](const std::filesystem::path& path) {
    std::error_code ignored;
    std::filesystem::create_directories(path, ignored);
    return path.string();
  };
  const Device::Clock clock =
      asked.standing ? Device::Clock([] { return kDemoEvening_ms; }) : Device::Clock(system_ms);
  auto desk = std::make_unique<Desk>(*std::move(type));
  if (asked.demo) {
    const std::string office = made(folder / "office");
    // What is recorded is the same in every language, and quicker said in none.
    const std::string language = DoorClient::spoken();
    DoorClient::speak("");
    const Result<void> recorded = record_demo(office, asked.checklists, clock(), asked.past);
    DoorClient::speak(language);
    if (!recorded) return tl::unexpected(recorded.error());
    desk->hub = std::make_unique<DemoHub>(clock, "Otter Bend");
    const Result<void> brought = bring(*desk->hub, office, clock);
    if (!brought) return tl::unexpected(brought.error());
  }
  for (const std::string& word : asked.phones) {
    const auto kind = std::ranges::find_if(kKinds, [&](const Kind& k) { return k.word == word; });
    if (kind == kKinds.end()) {
      return tl::unexpected(
          mistake("--phones",
                  fmt::format("{} is none of member, second, closer, coordinator, wide", word)));
    }
    Result<std::unique_ptr<Device>> device =
        Device::open(made(asked.demo ? folder / word : folder), clock,
                     asked.at_once ? Device::Pace::kAtOnce : Device::Pace::kBeside, asked.wake);
    if (!device) return tl::unexpected(device.error());
    Wire* wire = asked.demo ? &desk->hub->plug(**device, kind->name) : nullptr;
    if (wire != nullptr) wire->join(kind->role);
    desk->add(std::make_unique<Phone>(kind->name, kind->first, *std::move(device))).wide =
        kind->wide;
  }
  return desk;
}

}  // namespace chipfall::window
