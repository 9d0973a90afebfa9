#include "preview/window/script.h"

#include <algorithm>
#include <array>
#include <chrono>
#include <filesystem>
#include <sstream>
#include <thread>

#include <fmt/format.h>

namespace chipfall::window {
namespace {

constexpr int kRestingFrames = 3;
constexpr int kMostScrolls = 60;
constexpr int kMostWaits = 20'000;  ///< ms; an answer takes tens

constexpr std::array<const char*, 10> kVerbs{"on",  "text",    "tap",         "slide", "type",
                                             "see", "picture", "picture-all", "wait",  "scroll"};

Errors one(const std::string& file, int line, const std::string& message) {
  return {{ErrorCode::kMistake, message, {file, line, 0, ""}}};
}

/// Turns the wheel over it until it can be touched.
const Seen* bring(Desk& desk, Stage& stage, const SeenLayer& layer, const std::string& target) {
  for (int i = 0; i < kMostScrolls; ++i) {
    const Seen* seen = layer.target(target);
    if (seen == nullptr) return nullptr;
    const float x = (seen->at.left + seen->at.right) / 2;
    const float y = (seen->at.top + seen->at.bottom) / 2;
    if (seen->clip.has(x, y) || !seen->scrolls) return seen;
    desk.hands.x = (seen->clip.left + seen->clip.right) / 2;
    desk.hands.y = (seen->clip.top + seen->clip.bottom) / 2;
    desk.hands.wheel = (desk.hands.y - y) / 60;
    stage.frame();
  }
  return nullptr;
}

void press(Desk& desk, Stage& stage, float x, float y) {
  desk.hands.x = x;
  desk.hands.y = y;
  desk.hands.down = true;
  stage.frame();
  desk.hands.down = false;
  stage.frame();
  settle(desk, stage);
}

class Playing {
 public:
  Playing(const std::string& name, Desk& desk, Stage& stage, const PlayOptions& options)
      : name_(name), desk_(desk), stage_(stage), options_(options) {
    phone_ = desk.phones().front().get();
    if (options.text_size > 0) {
      for (const auto& phone : desk.phones()) phone->text_size = options.text_size;
    }
  }

  Result<void> play(const Command& command) {
    const std::string problem = run(command);
    if (problem.empty()) return {};
    return tl::unexpected(
        one(name_, command.line,
            fmt::format("{}. {} shows:\n{}", problem, phone_->name, phone_->seen.words())));
  }

 private:
  std::string run(const Command& command) {
    const std::string& rest = command.rest;
    if (command.verb == "on") {
      phone_ = desk_.find(rest);
      if (phone_ == nullptr) {
        phone_ = desk_.phones().front().get();
        return fmt::format("there is no phone called {}", rest);
      }
    }
    if (command.verb == "text" && options_.text_size == 0) {
      phone_->text_size = static_cast<float>(std::atof(rest.c_str())) / 100;
    }
    if (command.verb == "tap") {
      const Result<void> tapped = tap(desk_, stage_, *phone_, rest);
      if (!tapped) return tapped.error().front().message;
    }
    if (command.verb == "slide") return slide(rest);
    if (command.verb == "type") desk_.hands.typed = rest;
    if (command.verb == "scroll") scroll(rest);
    if (command.verb == "wait") {
      for (int i = 0; i < std::atoi(rest.c_str()); ++i) stage_.frame();
    }
    settle(desk_, stage_);
    if (options_.look_for_faults) {
      const auto faults = faults_of(phone_->seen, desk_.place_of(*phone_));
      if (!faults.empty()) return fmt::format("the screen has faults: {}", faults.front());
    }
    if (command.verb == "see" && !phone_->seen.says(rest)) {
      return fmt::format("nothing says \"{}\"", rest);
    }
    if (command.verb == "picture") return picture(rest, false);
    if (command.verb == "picture-all") return picture(rest, true);
    return {};
  }

  std::string slide(const std::string& rest) {
    const std::size_t blank = rest.rfind(' ');
    const Seen* seen = bring(desk_, stage_, phone_->seen, rest.substr(0, blank));
    if (seen == nullptr) return fmt::format("there is no slider {}", rest.substr(0, blank));
    const float share = static_cast<float>(std::atof(rest.substr(blank + 1).c_str()));
    const float x = seen->at.left + 14 + share * (seen->at.width() - 28);
    press(desk_, stage_, x, (seen->at.top + seen->at.bottom) / 2);
    return {};
  }

  void scroll(const std::string& where) {
    phone_->scrolls[phone_->screen].offset = where == "top" ? 0.0F : 1e9F;
  }

  std::string picture(const std::string& name, bool whole) {
    if (options_.pictures.empty()) return {};
    const Rect all{0, 0, desk_.width(), desk_.height()};
    const auto path = std::filesystem::path(options_.pictures) / (name + ".png");
    desk_.hands.x = desk_.hands.y = -1;
    stage_.frame();
    const Result<void> written =
        stage_.picture(path.string(), whole ? all : desk_.place_of(*phone_));
    return written ? "" : written.error().front().text();
  }

  const std::string& name_;
  Desk& desk_;
  Stage& stage_;
  const PlayOptions& options_;
  Phone* phone_;
};

}  // namespace

Result<std::vector<Command>> read_script(const std::string& name, const std::string& text) {
  std::vector<Command> out;
  Errors errors;
  std::istringstream lines(text);
  std::string line;
  for (int number = 1; std::getline(lines, line); ++number) {
    const std::size_t from = line.find_first_not_of(" \t");
    if (from == std::string::npos || line[from] == '#') continue;
    const std::size_t to = std::min(line.find(' ', from), line.size());
    Command command{number, line.substr(from, to - from), ""};
    if (to < line.size()) command.rest = line.substr(to + 1);
    if (std::ranges::find(kVerbs, command.verb) == kVerbs.end()) {
      const Errors wrong =
          one(name, number,
              fmt::format("{} is no command; one of {}", command.verb, fmt::join(kVerbs, ", ")));
      errors.insert(errors.end(), wrong.begin(), wrong.end());
    }
    out.push_back(std::move(command));
  }
  if (!errors.empty()) return tl::unexpected(errors);
  return out;
}

Result<void> play(const std::string& name, const std::vector<Command>& script, Desk& desk,
                  Stage& stage, const PlayOptions& options) {
  settle(desk, stage);
  Playing playing(name, desk, stage, options);
  for (const Command& command : script) {
    Result<void> played = playing.play(command);
    if (!played) return played;
  }
  return {};
}

void settle(Desk& desk, Stage& stage) {
  stage.frame();
  for (int waited = 0; desk.busy() && waited < kMostWaits; ++waited) {
    if (!desk.look()) std::this_thread::sleep_for(std::chrono::milliseconds(1));
  }
  for (int i = 0; i < kRestingFrames; ++i) stage.frame();
}

Result<void> tap(Desk& desk, Stage& stage, const Phone& phone, const std::string& target) {
  const SeenLayer& layer = target.starts_with("desk/") ? desk.seen : phone.seen;
  const Seen* seen = bring(desk, stage, layer, target);
  if (seen == nullptr) {
    return tl::unexpected(one("", 0, fmt::format("there is no target {} to tap", target)));
  }
  press(desk, stage, (seen->at.left + seen->at.right) / 2, (seen->at.top + seen->at.bottom) / 2);
  return {};
}

}  // namespace chipfall::window
