#include "sync/hub_asked.h"

#include <fmt/format.h>

#include <fstream>
#include <iterator>

namespace chipfall {

namespace {

HubExit exit_for(const Error& error) {
  return error.code == ErrorCode::kUnreadable ? HubExit::kFailed : HubExit::kMistake;
}

/// What was asked for counts more than `usual`.
Result<HubSettings> settings_for(const HubAsked& asked, HubSettings usual) {
  HubSettings settings = std::move(usual);
  if (!asked.config.empty()) {
    const auto read = read_settings_file(asked.config, settings);
    if (!read) return tl::unexpected(read.error());
  }
  for (const auto& [setting, value] : asked.flags) {
    if (setting->set(settings, value)) continue;
    return tl::unexpected(Errors{
        {ErrorCode::kMistake,
         fmt::format("--{}: \"{}\" will not do; give {}", setting->name, value, setting->wants),
         {}}});
  }
  return settings;
}

}  // namespace

int code(HubExit exit) { return static_cast<int>(exit); }

int explain(const Error& error, std::ostream& err) {
  err << error.text() << "\n";
  return code(exit_for(error));
}

int with_folder(const HubAsked& asked, bool may_create, std::ostream& err,
                const std::function<int(const HubFolder&)>& work) {
  const auto folder = HubFolder::open(asked.data, may_create);
  return folder ? work(*folder) : explain(folder.error(), err);
}

int with_shop(const HubAsked& asked, std::ostream& err,
              const std::function<int(const HubFolder&, SqliteHubLog&)>& work) {
  return with_folder(asked, false, err, [&](const HubFolder& folder) {
    const auto shop = folder.find_shop(asked.shop);
    return shop ? work(folder, **shop) : explain(shop.error(), err);
  });
}

Result<void> read_settings_file(const std::string& file, HubSettings& settings) {
  std::ifstream in(file, std::ios::binary);
  const std::string text(std::istreambuf_iterator<char>(in), {});
  if (!in) {
    return tl::unexpected(Errors{{ErrorCode::kUnreadable,
                                  "cannot be read: check the name and that it may be read",
                                  {file, 0, 0, ""}}});
  }
  return read_hub_settings(text, file, settings);
}

std::optional<HubSettings> told_settings(const HubAsked& asked, HubSettings usual,
                                         std::ostream& err, int& exit) {
  auto settings = settings_for(asked, std::move(usual));
  if (settings) return *std::move(settings);
  for (const Error& error : settings.error()) exit = explain(error, err);
  return std::nullopt;
}

}  // namespace chipfall
