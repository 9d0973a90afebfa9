#pragma once

#include <string>

#include "preview/window/desk.h"

/// Where the desk is drawn: on a display, or nowhere.
namespace chipfall::window {

class Stage {
 public:
  Stage() = default;
  Stage(const Stage&) = delete;
  Stage& operator=(const Stage&) = delete;
  virtual ~Stage() = default;

  /// Draws one frame with the desk's hands as they are.
  virtual void frame() = 0;
  /// Writes what lies in `part` as a PNG; nowhere, where nothing is shown.
  virtual Result<void> picture(const std::string& path, const Rect& part) = 0;
};

/// Draws into lists that nobody shows: for tests, measuring, and scripts without pictures.
class NoStage : public Stage {
 public:
  explicit NoStage(Desk& desk);
  ~NoStage() override;
  void frame() override;
  Result<void> picture(const std::string&, const Rect&) override { return {}; }

 private:
  Desk& desk_;
  ImGuiContext* context_;
};

}  // namespace chipfall::window
