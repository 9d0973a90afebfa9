#pragma once

#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

#include "core/shop/error.h"

/// How a hub is to run: what may stand in its config file and, with the same names, on the command
/// line.
///
///     # a comment
///     port = 8470
///     address = 192.168.1.20
///
/// A flag counts more than the file, the file more than what is usual.
namespace chipfall {

constexpr std::uint16_t kUsualPort = 8470;
constexpr int kUsualConnections = 1'000;
constexpr int kMostConnections = 20'000;  ///< at about 30 KB each while idle: 600 MB
constexpr std::size_t kMostSettingsBytes = 64 * 1024;

struct HubSettings {
  std::string bind = "0.0.0.0";  ///< address to listen on
  std::uint16_t port = kUsualPort;
  std::string address;                 ///< by which phones reach the hub; empty: found out
  std::string certificate, key;        ///< files in PEM form; empty: the hub's own
  std::string shop_name = "Woodshop";  ///< of the shop that is made where there is none
  std::vector<std::string> origins;    ///< web pages that may connect, beside the hub's own
  std::string page;                    ///< folder of the phones' page; empty: none is served
  int connections = kUsualConnections;
  bool metrics_for_all = false;  ///< else /metrics answers this computer only
  bool quick_check = true;
};

/// One name of the table below.
struct HubSetting {
  const char* name;
  const char* help;
  /// False where the text cannot be a value of this setting.
  bool (*set)(HubSettings& settings, const std::string& text);
  std::string (*get)(const HubSettings& settings);
  const char* wants;  ///< what would be right
};

const std::vector<HubSetting>& hub_settings();

/// Reads a config file's text into `settings`; every mistake with its line.
Result<void> read_hub_settings(std::string_view text, const std::string& file,
                               HubSettings& settings);

/// A config file that gives these settings.
std::string hub_settings_text(const HubSettings& settings);

}  // namespace chipfall
