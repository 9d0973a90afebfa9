#pragma once

#include <fcntl.h>
#include <signal.h>
#include <sys/wait.h>
#include <unistd.h>

#include <string>
#include <vector>

#include "tests/hub/running_hub.h"

/// The real program as a process of its own.
namespace chipfall {

class Process {
 public:
  /// Output and complaints go to one file.
  Process(std::vector<std::string> words, const std::string& output) : output_(output) {
    process_ = ::fork();
    if (process_ != 0) return;
    const int file = ::open(output.c_str(), O_WRONLY | O_CREAT | O_TRUNC, 0600);
    ::dup2(file, 1);
    ::dup2(file, 2);
    std::vector<char*> arguments;
    for (std::string& word : words) arguments.push_back(word.data());
    arguments.push_back(nullptr);
    ::execvp(arguments[0], arguments.data());
    ::_exit(127);
  }
  Process(const Process&) = delete;
  Process& operator=(const Process&) = delete;
  ~Process() {
    if (process_ > 0) end(SIGKILL);
  }
  /// The exit code, or minus the signal.
  int end(int signal) {
    ::kill(process_, signal);
    return wait();
  }
  int wait() {
    int status = 0;
    ::waitpid(process_, &status, 0);
    process_ = 0;
    return WIFEXITED(status) ? WEXITSTATUS(status) : -WTERMSIG(status);
  }
  pid_t id() const { return process_; }
  std::string output() const { return contents(output_); }

 private:
  pid_t process_ = 0;
  std::string output_;
};

inline std::vector<std::string> serve_words(const std::string& data, int port = 0) {
  return {CHIPFALL_HUB, "serve",     "--data", data,
          "--bind",     "127.0.0.1", "--port", std::to_string(port)};
}

/// The port on which a hub process serves from this folder; waits for it.
inline std::uint16_t port_of(const std::string& data) {
  std::uint16_t port = 0;
  CHECK(soon([&] {
    const auto folder = HubFolder::open(data, false);
    return folder && (port = ServingLock::port_in(*folder)) != 0;
  }));
  return port;
}

struct Said {
  int exit = 0;
  std::string text;
};

inline Said run_words(std::vector<std::string> words, const LedgerFolder& folder) {
  Process process(std::move(words), folder.file("said"));
  Said said;
  said.exit = process.wait();
  said.text = process.output();
  return said;
}

inline Said run_hub(std::vector<std::string> words, const LedgerFolder& folder) {
  words.insert(words.begin(), CHIPFALL_HUB);
  return run_words(std::move(words), folder);
}

}  // namespace chipfall
