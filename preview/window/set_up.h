#pragma once

#include <functional>
#include <memory>
#include <string>
#include <vector>

#include "preview/window/desk.h"

/// From what was asked for on the command line to phones on the desk.
namespace chipfall::window {

struct SetUp {
  bool demo = false;
  std::string folder;      ///< empty with `demo`: a temporary one
  std::string checklists;  ///< set to the source's own by the constructor
  std::vector<std::string> phones{"member", "closer", "coordinator"};
  bool past = true;       ///< of the demo: three weeks; else its sheet alone
  bool at_once = false;   ///< for scripts: answers without a thread beside the drawing
  bool standing = false;  ///< the clock stands at the demo's evening
  std::function<void()> wake;

  SetUp();
};

/// A folder that goes away with it.
class TemporaryFolder {
 public:
  static Result<TemporaryFolder> make();
  TemporaryFolder(TemporaryFolder&& other) noexcept : path_(std::move(other.path_)) {
    other.path_.clear();
  }
  TemporaryFolder(const TemporaryFolder&) = delete;
  TemporaryFolder& operator=(const TemporaryFolder&) = delete;
  TemporaryFolder& operator=(TemporaryFolder&&) = delete;
  ~TemporaryFolder();
  const std::string& path() const { return path_; }

 private:
  explicit TemporaryFolder(std::string path) : path_(std::move(path)) {}
  std::string path_;
};

/// `scratch` is where a demo without a folder of its own is recorded.
Result<std::unique_ptr<Desk>> set_up(const SetUp& asked, const std::string& scratch);

}  // namespace chipfall::window
