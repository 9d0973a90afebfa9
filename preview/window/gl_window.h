#pragma once

#include <memory>

#include "preview/window/stage.h"

struct GLFWwindow;

/// The desk on a display, through GLFW and OpenGL 3.
namespace chipfall::window {

class GlStage : public Stage {
 public:
  /// `pixels` a device-independent pixel; 0: as the display says. The error tells what is missing.
  static Result<std::unique_ptr<GlStage>> open(Desk& desk, float pixels);
  ~GlStage() override;

  void frame() override;
  Result<void> picture(const std::string& path, const Rect& part) override;

  /// Until the window is closed: draws when somebody does something or a door has news, and else
  /// sleeps.
  void run();
  /// From any thread: there is news.
  static void wake();

  int frames() const { return frames_; }

 private:
  explicit GlStage(Desk& desk) : desk_(desk) {}
  void listen();

  Desk& desk_;
  GLFWwindow* window_ = nullptr;
  ImGuiContext* context_ = nullptr;
  float pixels_ = 1;
  int frames_ = 0;
  int fresh_ = 0;  ///< frames still to draw after something happened
};

}  // namespace chipfall::window
