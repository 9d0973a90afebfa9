#include "preview/window/stage.h"

namespace chipfall::window {
namespace {

constexpr float kFrame_s = 1.0F / 60;  ///< always the same, so that two runs draw the same

}  // namespace

NoStage::NoStage(Desk& desk) : desk_(desk), context_(ImGui::CreateContext()) {
  ImGui::GetIO().IniFilename = nullptr;
}

NoStage::~NoStage() { ImGui::DestroyContext(context_); }

void NoStage::frame() {
  desk_.look();
  if (desk_.prepare(1)) ImGui::GetIO().Fonts->SetTexID(&desk_);
  ImGuiIO& io = ImGui::GetIO();
  io.DisplaySize = {desk_.width(), desk_.height()};
  io.DeltaTime = kFrame_s;
  ImGui::NewFrame();
  desk_.draw();
  ImGui::Render();
}

}  // namespace chipfall::window
