#include "preview/window/gl_window.h"

#include <algorithm>
#include <cmath>

#include <GLFW/glfw3.h>
#include <backends/imgui_impl_opengl3.h>

#include "preview/window/picture.h"

namespace chipfall::window {
namespace {

constexpr float kFrame_s = 1.0F / 60;
constexpr int kFramesAfter = 3;  ///< heights that a frame measures hold from the next one on

std::string utf8_of(unsigned letter) {
  std::string out;
  const auto add = [&](unsigned byte) { out += static_cast<char>(byte); };
  if (letter < 0x80) {
    add(letter);
  } else if (letter < 0x800) {
    add(0xC0U | letter >> 6U);
    add(0x80U | (letter & 0x3FU));
  } else if (letter < 0x10000) {
    add(0xE0U | letter >> 12U);
    add(0x80U | (letter >> 6U & 0x3FU));
    add(0x80U | (letter & 0x3FU));
  } else {
    add(0xF0U | letter >> 18U);
    add(0x80U | (letter >> 12U & 0x3FU));
    add(0x80U | (letter >> 6U & 0x3FU));
    add(0x80U | (letter & 0x3FU));
  }
  return out;
}

Errors no_display() {
  const char* why = nullptr;
  glfwGetError(&why);
  std::string message = "no window could be opened";
  if (why != nullptr) message.append(": ").append(why);
  message += ". Without a display: xvfb-run -a chipfall-window --script FILE --pictures FOLDER";
  return {{ErrorCode::kUnreadable, message, {"display", 0, 0, ""}}};
}

}  // namespace

Result<std::unique_ptr<GlStage>> GlStage::open(Desk& desk, float pixels) {
  if (glfwInit() != GLFW_TRUE) return tl::unexpected(no_display());
  std::unique_ptr<GlStage> stage(new GlStage(desk));
  glfwWindowHint(GLFW_CONTEXT_VERSION_MAJOR, 3);
  glfwWindowHint(GLFW_CONTEXT_VERSION_MINOR, 2);
  glfwWindowHint(GLFW_OPENGL_PROFILE, GLFW_OPENGL_CORE_PROFILE);
  glfwWindowHint(GLFW_OPENGL_FORWARD_COMPAT, GLFW_TRUE);
  const float wanted = pixels > 0 ? pixels : 1;
  stage->window_ =
      glfwCreateWindow(static_cast<int>(desk.width() * wanted),
                       static_cast<int>(desk.height() * wanted), "Chipfall", nullptr, nullptr);
  if (stage->window_ == nullptr) return tl::unexpected(no_display());
  stage->pixels_ = wanted;
  if (pixels <= 0) {
    float along = 1;
    float down = 1;
    glfwGetWindowContentScale(stage->window_, &along, &down);
    stage->pixels_ = std::clamp(along, 1.0F, 4.0F);
    glfwSetWindowSize(stage->window_, static_cast<int>(desk.width() * stage->pixels_),
                      static_cast<int>(desk.height() * stage->pixels_));
  }
  glfwMakeContextCurrent(stage->window_);
  glfwSwapInterval(1);
  stage->context_ = ImGui::CreateContext();
  ImGui::GetIO().IniFilename = nullptr;
  ImGui_ImplOpenGL3_Init("#version 150");
  stage->listen();
  return stage;
}

GlStage::~GlStage() {
  if (context_ != nullptr) {
    ImGui_ImplOpenGL3_Shutdown();
    ImGui::DestroyContext(context_);
  }
  if (window_ != nullptr) glfwDestroyWindow(window_);
  glfwTerminate();
}

void GlStage::listen() {
  glfwSetWindowUserPointer(window_, this);
  static const auto self = [](GLFWwindow* window) -> GlStage& {
    auto& stage = *static_cast<GlStage*>(glfwGetWindowUserPointer(window));
    stage.fresh_ = kFramesAfter;
    return stage;
  };
  glfwSetCursorPosCallback(window_, [](GLFWwindow* window, double x, double y) {
    GlStage& stage = self(window);
    stage.desk_.hands.x = static_cast<float>(x) / stage.pixels_;
    stage.desk_.hands.y = static_cast<float>(y) / stage.pixels_;
  });
  glfwSetMouseButtonCallback(window_, [](GLFWwindow* window, int button, int action, int) {
    if (button == GLFW_MOUSE_BUTTON_LEFT) self(window).desk_.hands.down = action == GLFW_PRESS;
  });
  glfwSetScrollCallback(window_, [](GLFWwindow* window, double, double notches) {
    self(window).desk_.hands.wheel += static_cast<float>(notches);
  });
  glfwSetCharCallback(window_, [](GLFWwindow* window, unsigned letter) {
    self(window).desk_.hands.typed += utf8_of(letter);
  });
  glfwSetKeyCallback(window_, [](GLFWwindow* window, int key, int, int action, int mods) {
    if (action == GLFW_RELEASE) return;
    Hands& hands = self(window).desk_.hands;
    hands.erase = hands.erase || key == GLFW_KEY_BACKSPACE;
    hands.enter = hands.enter || key == GLFW_KEY_ENTER;
    if (key == GLFW_KEY_TAB) ((mods & GLFW_MOD_SHIFT) != 0 ? hands.previous : hands.next) = true;
  });
  glfwSetWindowRefreshCallback(window_, [](GLFWwindow* window) { self(window); });
}

void GlStage::wake() { glfwPostEmptyEvent(); }

void GlStage::frame() {
  desk_.look();
  if (desk_.prepare(pixels_)) {
    // The backend makes its shaders and the first texture in its first NewFrame.
    if (frames_ > 0) {
      ImGui_ImplOpenGL3_DestroyFontsTexture();
      ImGui_ImplOpenGL3_CreateFontsTexture();
    }
  }
  ImGui_ImplOpenGL3_NewFrame();
  int width = 0;
  int height = 0;
  glfwGetFramebufferSize(window_, &width, &height);
  ImGuiIO& io = ImGui::GetIO();
  io.DisplaySize = {static_cast<float>(width) / pixels_, static_cast<float>(height) / pixels_};
  io.DisplayFramebufferScale = {pixels_, pixels_};
  io.DeltaTime = kFrame_s;
  ImGui::NewFrame();
  desk_.draw();
  ImGui::Render();
  glViewport(0, 0, width, height);
  const ImVec4 ground = ImGui::ColorConvertU32ToFloat4(colour_of(kDesk));
  glClearColor(ground.x, ground.y, ground.z, 1);
  glClear(GL_COLOR_BUFFER_BIT);
  ImGui_ImplOpenGL3_RenderDrawData(ImGui::GetDrawData());
  ++frames_;
}

/// Of the frame just drawn, before it is swapped away.
Result<void> GlStage::picture(const std::string& path, const Rect& part) {
  int width = 0;
  int height = 0;
  glfwGetFramebufferSize(window_, &width, &height);
  const auto at = [&](float dip) { return static_cast<int>(std::lround(dip * pixels_)); };
  const int left = std::clamp(at(part.left), 0, width - 1);
  const int top = std::clamp(at(part.top), 0, height - 1);
  Picture picture;
  picture.width = std::clamp(at(part.right), left + 1, width) - left;
  picture.height = std::clamp(at(part.bottom), top + 1, height) - top;
  const auto row = static_cast<std::size_t>(4 * picture.width);
  std::vector<unsigned char> upside(row * static_cast<std::size_t>(picture.height));
  glPixelStorei(GL_PACK_ALIGNMENT, 1);
  glReadPixels(left, height - top - picture.height, picture.width, picture.height, GL_RGBA,
               GL_UNSIGNED_BYTE, upside.data());
  for (auto y = static_cast<std::ptrdiff_t>(picture.height) - 1; y >= 0; --y) {
    const auto from = upside.begin() + y * static_cast<std::ptrdiff_t>(row);
    picture.rgba.insert(picture.rgba.end(), from, from + static_cast<std::ptrdiff_t>(row));
  }
  return write_png(picture, path);
}

void GlStage::run() {
  fresh_ = kFramesAfter;
  while (glfwWindowShouldClose(window_) == GLFW_FALSE) {
    if (fresh_ > 0) {
      frame();
      glfwSwapBuffers(window_);
      --fresh_;
      glfwPollEvents();
    } else {
      glfwWaitEvents();
    }
    if (desk_.look()) fresh_ = kFramesAfter;
  }
}

}  // namespace chipfall::window
