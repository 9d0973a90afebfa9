#include <exception>
#include <iostream>

#include "sync/hub_commands.h"

int main(int argc, char** argv) {
  try {
    return chipfall::run_hub_command(argc, argv, std::cout, std::cerr);
  } catch (const std::exception& failure) {
    std::cerr << "chipfall-hub: " << failure.what() << "\n";
    return static_cast<int>(chipfall::HubExit::kFailed);
  }
}
