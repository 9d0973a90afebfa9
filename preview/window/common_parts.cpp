#include <algorithm>

#include "core/duty/say.h"
#include "preview/window/screens.h"

namespace chipfall::window {

void trouble_part(Pen& pen, Phone& phone) {
  if (phone.trouble.empty()) return;
  std::vector<std::string> words;
  for (const Error& error : phone.trouble) {
    // The place in the request says nothing to people; the message says what would be right.
    std::string sentence = error.message;
    if (!sentence.empty() && sentence.back() != '.') sentence += '.';
    words.push_back(sentence);
  }
  words.push_back("Nothing was saved by this; what was saved before stays.");
  pen.trouble("That did not work", words);
  if (pen.button({"trouble/close", "All right", Look::kPlain, Icon::kCheck})) phone.trouble.clear();
}

std::string Cautions::fresh(const std::string& caution) {
  std::string out;
  for (const std::string& sentence : sentences(caution)) {
    if (!said.insert(sentence).second) continue;
    if (!out.empty()) out += ' ';
    out += sentence;
  }
  return out;
}

std::string waiting_words(const Phone& phone) {
  return phone.trouble.empty() ? "Working it out ..." : "";
}

}  // namespace chipfall::window
