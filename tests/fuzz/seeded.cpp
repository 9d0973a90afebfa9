// Runs a fuzz target without libFuzzer, for compilers that have none: the seeds, then so many
// inputs made of them by chance from a number, the same ones each time.
//   seeded_NAME FOLDER [--inputs N] [--seed S] [--only I]
#include <signal.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <cstdint>
#include <cstdio>
#include <filesystem>
#include <fstream>
#include <iostream>
#include <iterator>
#include <random>
#include <string>
#include <vector>

extern "C" int LLVMFuzzerTestOneInput(const unsigned char* bytes, std::size_t size);
#ifdef CHIPFALL_SANITIZED
extern "C" void __sanitizer_set_death_callback(void (*callback)());
#endif

namespace {

constexpr std::size_t kMostBytes = 8'192;  // as tests/fuzz/run allows libFuzzer

std::uint64_t tried_seed = 0, tried_input = 0;  // for the message of whoever dies

void say_which() {
  std::array<char, 128> text{};
  const int size = std::snprintf(text.data(), text.size(), "\nbroken by --seed %llu --only %llu\n",
                                 static_cast<unsigned long long>(tried_seed),
                                 static_cast<unsigned long long>(tried_input));
  if (::write(2, text.data(), static_cast<std::size_t>(size)) < 0) return;
}

void died(int) {
  say_which();
  ::_exit(1);
}

/// One change, as hostile or broken senders make them.
class Changes {
 public:
  Changes(const std::vector<std::string>& seeds, std::uint64_t seed, std::uint64_t input)
      : seeds_(seeds), chance_(seed * 1'000'003 + input) {}

  std::string input() {
    std::string bytes = seeds_[below(seeds_.size())];
    for (std::size_t i = 0, changes = 1 + below(6); i < changes; ++i) change(bytes);
    if (bytes.size() > kMostBytes) bytes.resize(kMostBytes);
    return bytes;
  }

 private:
  std::size_t below(std::size_t bound) { return static_cast<std::size_t>(chance_() % bound); }
  char byte() { return static_cast<char>(chance_()); }

  void change(std::string& bytes) {
    if (bytes.empty()) bytes += byte();
    const std::size_t at = below(bytes.size());
    const std::size_t size = 1 + below(std::min<std::size_t>(bytes.size() - at, 32));
    switch (below(8)) {
      case 0:  // a bit turns
        bytes[at] = static_cast<char>(bytes[at] ^ (1 << below(8)));
        break;
      case 1:
        bytes[at] = byte();
        break;
      case 2:  // the ends of what a length or a number can be
        bytes[at] = "\x00\x01\x7f\x80\xff\xfe\x0f\xf0"[below(8)];
        break;
      case 3:
        bytes.erase(at, size);
        break;
      case 4:
        bytes.insert(at, bytes.substr(at, size));
        break;
      case 5:  // a number that goes on for ever
        bytes.insert(at, std::string(1 + below(12), '\xff'));
        break;
      case 6: {  // the end of another
        const std::string& other = seeds_[below(seeds_.size())];
        bytes.replace(at, std::string::npos, other.substr(below(other.size() + 1)));
        break;
      }
      default:
        bytes.resize(at);
    }
  }

  const std::vector<std::string>& seeds_;
  std::mt19937_64 chance_;
};

std::vector<std::string> seeds_in(const std::string& folder) {
  std::vector<std::filesystem::path> files;
  for (const auto& file : std::filesystem::directory_iterator(folder)) files.push_back(file.path());
  std::sort(files.begin(), files.end());
  std::vector<std::string> seeds;
  for (const auto& file : files) {
    std::ifstream in(file, std::ios::binary);
    seeds.emplace_back(std::istreambuf_iterator<char>(in), std::istreambuf_iterator<char>());
  }
  return seeds;
}

void try_one(const std::string& bytes) {
  // At its own length on the heap, so that reading past its end is seen.
  const std::vector<unsigned char> exact(bytes.begin(), bytes.end());
  LLVMFuzzerTestOneInput(exact.data(), exact.size());
}

}  // namespace

int main(int argc, char** argv) {
  std::uint64_t inputs = 20'000, seed = 1, only = 0;
  for (int i = 2; i + 1 < argc; i += 2) {
    const std::string name = argv[i];
    (name == "--inputs" ? inputs : name == "--seed" ? seed : only) = std::stoull(argv[i + 1]);
  }
  const auto seeds = argc > 1 ? seeds_in(argv[1]) : std::vector<std::string>();
  if (seeds.empty()) {
    std::cerr << "usage: " << argv[0] << " FOLDER_OF_SEEDS [--inputs N] [--seed S] [--only I]\n";
    return 2;
  }
  tried_seed = seed;
  for (const int signal : {SIGABRT, SIGSEGV, SIGFPE, SIGBUS}) ::signal(signal, died);
#ifdef CHIPFALL_SANITIZED
  __sanitizer_set_death_callback(say_which);
#endif
  for (const std::string& bytes : seeds) try_one(bytes);
  const std::uint64_t first = only == 0 ? 1 : only, last = only == 0 ? inputs : only;
  for (tried_input = first; tried_input <= last; ++tried_input) {
    try_one(Changes(seeds, seed, tried_input).input());
  }
  std::cout << seeds.size() << " seeds and " << last - first + 1
            << " inputs made of them, none broke it\n";
}
