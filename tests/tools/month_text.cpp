// Prints what the coordinator of a shop would be told after a made-up month of recorded sessions:
//   month_text SHEET.textproto SEED SESSION.textproto...
#include <cstdio>
#include <cstdlib>
#include <fstream>
#include <iostream>

#include "core/shop/load.h"
#include "preview/terminal/bins_text.h"
#include "tests/tools/shop_month.h"

namespace {

chipfall::Text text_of(const char* name) {
  std::ifstream in(name, std::ios::binary);
  return {name, {std::istreambuf_iterator<char>(in), {}}};
}

template <typename T>
T loaded(chipfall::Result<T> result) {
  if (result) return std::move(*result);
  for (const chipfall::Error& error : result.error()) std::cerr << error.text() << "\n";
  std::exit(1);
}

}  // namespace

int main(int count, char** words) {
  if (count < 4) {
    std::cerr << "month_text SHEET.textproto SEED SESSION.textproto...\n";
    return 2;
  }
  const chipfall::Shop shop =
      loaded(chipfall::load_shop(text_of(words[1]), chipfall::builtin_library()));
  std::vector<chipfall::Session> sessions;
  for (int i = 3; i < count; ++i) {
    sessions.push_back(loaded(chipfall::load_session(text_of(words[i]), shop)));
  }
  chipfall::MonthAsk ask;
  ask.seed = static_cast<unsigned>(std::strtoul(words[2], nullptr, 10));
  const chipfall::ShopMonth month = chipfall::simulated_month(shop, sessions, ask);
  chipfall::CoordinatorView view = chipfall::view_of(shop, month);
  view.machines_out.push_back({chipfall::index_of(shop.machines, "belt-sander"), month.now_day - 3,
                               "waits for a belt", true});
  if (view.machines_out.back().machine == chipfall::kNone) view.machines_out.clear();
  std::cout << chipfall::coordinator_text(chipfall::coordinator_answer(shop, view), 100);
}
