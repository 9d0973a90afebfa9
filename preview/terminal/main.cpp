#include <iostream>

#include "preview/terminal/commands.h"

int main(int argc, char** argv) { return chipfall::run(argc, argv, std::cout, std::cerr); }
